"""Pictures of faults: they show the measures by which the fault was judged."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import ANATOMICAL, swap_sides
from service.analysis.types import Handedness, Judged, View
from service.demo import clip_body
from service.lessons.wording import place_in_words
from service.report.clip import Clip
from service.report.drawing.measure_marks import value_in_words
from service.report.drawing.svg import ANGLE
from service.report.frames import FaultNotShown, draw_fault
from tests.records.kept import RULES

SVG = "{http://www.w3.org/2000/svg}"
SEEN = [(name, view) for name, d in CATALOGUE.items() for view in d.criteria]


@pytest.fixture(scope="module")
def clips() -> dict[View, Clip]:
    return {view: RULES.analyse_body(clip_body(view.value)) for view in View}


def _position(fault: str, view: View) -> float:
    definition = CATALOGUE[fault]
    return definition.shows_at or definition.criteria[view][0].measure.end


def _draw(swings: dict[str, Clip], fault: str, view: View) -> Element:
    return ElementTree.fromstring(draw_fault(swings, fault, _position(fault, view)))


def _said(root: Element) -> str:
    return " ".join(text.text or "" for text in root.iter(f"{SVG}text"))


def _marks(root: Element) -> list[Element]:
    return [p for p in root.iter(f"{SVG}path") if p.get("stroke") == ANGLE]


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_a_picture_shows_the_values_of_the_finding_and_no_other(
    clips: dict[View, Clip], fault: str, view: View
) -> None:
    clip = clips[view]
    # A line may break at a hyphen.
    said = _said(_draw({"Now": clip}, fault, view)).replace("- ", "-")
    names = [c.measure.name for c in CATALOGUE[fault].criteria[view]]
    for measure in clip.analysis.measures:
        if measure.name in names:
            assert f"{measure.title}: {value_in_words(measure)}" in said
        else:
            assert f"{measure.title}: " not in said


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_what_is_measured_is_drawn_unless_it_is_a_time(
    clips: dict[View, Clip], fault: str, view: View
) -> None:
    marks = _marks(_draw({"Now": clips[view]}, fault, view))
    assert bool(marks) is (fault != "hurried_transition")


def test_before_and_after_tell_the_table_s_measure_and_how_it_changed(
    clips: dict[View, Clip],
) -> None:
    before = clips[View.FACE_ON]
    better = tuple(
        replace(m, value=38.2) if m.name == "lead_arm_elevation_gained" else m
        for m in before.analysis.measures
    )
    after = replace(before, analysis=replace(before.analysis, measures=better))
    said = _said(_draw({"Before": before, "After": after}, "arms_lift_at_top", View.FACE_ON))
    (was,) = (m for m in before.analysis.measures if m.name == "lead_arm_elevation_gained")
    assert f"Rise of the lead arm from P3 to P4: {value_in_words(was)} → 38°" in said
    assert "Lead arm from level" not in said


def test_a_picture_of_the_heel_shows_the_heel(clips: dict[View, Clip]) -> None:
    root = _draw({"Now": clips[View.FACE_ON]}, "trail_heel_kick", View.FACE_ON)
    assert len([p for p in root.iter(f"{SVG}polygon") if p.get("fill") == ANGLE]) == 2
    assert not {"Shoulder", "elbow", "Club"} & set(_said(root).replace(":", "").split())


def test_the_arrow_is_as_long_as_the_travel_it_stands_for(clips: dict[View, Clip]) -> None:
    clip = clips[View.FACE_ON]
    heel = ANATOMICAL.index("right_heel")

    def arrow(lifted: float) -> float:
        points = clip.recording.points.copy()
        late = clip.analysis.coordinate > 4.0
        points[late, heel] -= [0.0, lifted]
        moved = replace(clip, recording=replace(clip.recording, points=points))
        root = _draw({"Now": moved}, "handle_rise", View.FACE_ON)
        assert _marks(root)  # the scene stays that of the whole body
        root = _draw({"Now": moved}, "trail_heel_kick", View.FACE_ON)
        up = next(p for p in _marks(root) if p.get("stroke-width") == "3.5")
        x0, y0, x1, y1 = map(float, (up.get("d") or "").replace("M", "").replace("L", "").split())
        assert x0 == pytest.approx(x1, abs=0.11)
        return y0 - y1

    small, large = arrow(0.0), arrow(40.0)
    assert large > small > 0.0


def test_a_point_that_is_missing_takes_its_mark_along(clips: dict[View, Clip]) -> None:
    clip = clips[View.FACE_ON]
    points = clip.recording.points.copy()
    points[:, ANATOMICAL.index("right_heel")] = np.nan
    blind = replace(clip, recording=replace(clip.recording, points=points))
    root = _draw({"Now": blind}, "trail_heel_kick", View.FACE_ON)
    assert _marks(root) == []
    assert "nan" not in ElementTree.tostring(root, encoding="unicode").lower()


@pytest.mark.parametrize("fault", [name for name, view in SEEN if view is View.FACE_ON])
def test_a_left_hander_gets_the_mirror_image(clips: dict[View, Clip], fault: str) -> None:
    clip = clips[View.FACE_ON]
    points = swap_sides(clip.recording.points) * [-1.0, 1.0]
    analysis = replace(clip.analysis, handedness=Judged(Handedness.LEFT, 1.0, given=True))
    mirrored = Clip(None, replace(clip.recording, points=points), analysis)
    one, other = (_draw({"Now": c}, fault, View.FACE_ON) for c in (clip, mirrored))
    assert _said(one) == _said(other)
    assert len(_marks(one)) == len(_marks(other))


@pytest.mark.parametrize(
    ("fault", "why"),
    [("shaft_steep_at_top", "can only be seen down the line"), ("flying", "no fault named")],
)
def test_what_cannot_be_seen_from_here_is_refused(
    clips: dict[View, Clip], fault: str, why: str
) -> None:
    with pytest.raises(FaultNotShown, match=why):
        draw_fault({"Now": clips[View.FACE_ON]}, fault, 4.0)


@pytest.mark.parametrize(
    ("position", "told"),
    [
        (1.0, "address (P1)"),
        (6.88, "just before impact (P6.9)"),
        (8.3, "just after shaft level after impact (P8.3)"),
        (10.0, "the finish (P10)"),
    ],
)
def test_positions_have_plain_names(position: float, told: str) -> None:
    assert place_in_words(position) == told
