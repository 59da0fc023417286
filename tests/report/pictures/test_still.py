"""A film's picture with the pose over it."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from service.analysis.pose.points import ANATOMICAL, Point
from service.analysis.types import Handedness, Judged
from service.demo import clip_body
from service.report.clip import Clip
from service.report.pictures.still import HEIGHT, WIDTH, Photo, draw_still, still_scene, window_of
from service.settings import Settings
from service.use_cases.analyse import Analyser

SVG = "{http://www.w3.org/2000/svg}"
FRAME = 100


@pytest.fixture(scope="module")
def clip() -> Clip:
    return Analyser.of(Settings()).analyse_body(clip_body("face_on"))


@pytest.mark.parametrize(("hand", "lead"), [(Handedness.RIGHT, "left"), (Handedness.LEFT, "right")])
def test_the_lead_side_is_drawn_as_such_for_either_hand(clip: Clip, hand: str, lead: str) -> None:
    judged = replace(clip.analysis, handedness=Judged(hand, 1.0, given=True))
    scene = still_scene(replace(clip, analysis=judged), [FRAME])
    sent = clip.recording.points[FRAME, ANATOMICAL.index(f"{lead}_wrist")]
    assert np.allclose(scene.poses[FRAME, Point.LEAD_WRIST], sent)


def test_photo_and_pose_lie_on_each_other(clip: Clip) -> None:
    """A photo that covers the window fills the still; half of it fills half."""
    scene = still_scene(clip, [FRAME])
    window = window_of(scene)
    half = replace(window, width=window.width / 2)
    for part, width in ((window, WIDTH), (half, WIDTH / 2)):
        drawn = ElementTree.fromstring(
            draw_still(scene, FRAME, Photo(b"jpeg", part), "P4", "At the top.", [Point.LEAD_WRIST])
        )
        image = drawn.find(f"{SVG}image")
        assert image is not None
        placed = [float(image.attrib[name]) for name in ("x", "y", "width", "height")]
        assert placed == pytest.approx([0.0, 0.0, width, HEIGHT], abs=0.1)
        assert image.attrib["href"] == "data:image/jpeg;base64,anBlZw=="
        tags = [element.tag.removeprefix(SVG) for element in drawn]
        assert tags.index("image") < tags.index("path")
    pose = scene.pose(FRAME)
    seen = pose[np.isfinite(pose).all(axis=1)]
    assert (seen >= 0).all()
    assert (seen <= (WIDTH, HEIGHT)).all()
