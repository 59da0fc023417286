"""A coach's drawing over the frame of a position."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import numpy as np
import pytest

from service.analysis.types import Handedness, Judged
from service.lessons.coach.edits import KeyWords, OwnKey, Shape, ShapeKind
from service.report.clip import Clip
from service.report.drawing.figure import scene_of
from service.report.drawing.svg import MARK
from service.report.pictures.coach_drawing import draw_own_key
from service.report.pictures.poses import PositionNotShown, about_the_feet, frame_of
from tests.records.kept import analysed, faulty_body, still_body

SVG = "{http://www.w3.org/2000/svg}"
FAR = (
    Shape(ShapeKind.LINE, ((-1.5, -0.5), (1.5, 2.0)), label="from end to end"),
    Shape(ShapeKind.ANGLE, ((0.0, 2.0), (0.0, 1.0), (1.5, 1.0)), label="a corner"),
    Shape(ShapeKind.CIRCLE, ((0.0, 2.0),), 1.0, label="a ring"),
)


def drawn(clip: Clip, *shapes: Shape, position: int = 4) -> Element:
    key = OwnKey("A key", position, None, KeyWords(work_on="So."), shapes)
    return ElementTree.fromstring(draw_own_key(clip, key))


@pytest.fixture
def clip() -> Clip:
    return analysed(faulty_body())


def figure(root: Element) -> tuple[Element, float, float]:
    (inner,) = [e for e in root if e.tag == f"{SVG}svg"]
    return inner, float(inner.get("width", 0)), float(inner.get("height", 0))


def test_whatever_is_drawn_lies_within_the_picture(clip: Clip) -> None:
    inner, width, height = figure(drawn(clip, *FAR))
    marks = [e for e in inner if e.get("stroke") == MARK or e.tag == f"{SVG}polyline"]
    places = []
    for mark in marks:
        if mark.tag == f"{SVG}circle":
            x, y, r = (float(mark.get(name, 0)) for name in ("cx", "cy", "r"))
            places += [(x - r, y - r), (x + r, y + r)]
        else:
            numbers = re.findall(r"-?[0-9.]+", mark.get("d") or mark.get("points") or "")
            places += list(zip(map(float, numbers[::2]), map(float, numbers[1::2]), strict=True))
    across, down = np.array(places).T
    assert len(marks) == 4, "a line, two sides as one path and their arc, a circle"
    assert 0.0 <= across.min() < across.max() <= width
    assert 0.0 <= down.min() < down.max() <= height


def test_labels_are_in_the_picture_and_clear_of_each_other(clip: Clip) -> None:
    same = [
        Shape(ShapeKind.LINE, ((0.0, 0.5), (0.1, 1.0)), label=f"label number {n}") for n in range(4)
    ]
    inner, width, height = figure(drawn(clip, *same))
    places = [(float(e.get("x", 0)), float(e.get("y", 0))) for e in inner if e.tag == f"{SVG}text"]
    assert len(places) == 4
    for (x, y), (u, v) in combinations(places, 2):
        assert abs(x - u) > 50 or abs(y - v) >= 13
    assert all(0 < x < width and 13 <= y < height for x, y in places)


def test_a_line_from_feet_to_head_is_a_body_height_long_and_upright(clip: Clip) -> None:
    upright = Shape(ShapeKind.LINE, ((0.0, 0.0), (0.0, 1.0)))
    inner, _, _ = figure(drawn(clip, upright, position=1))
    (line,) = [e for e in inner if e.get("stroke") == MARK]
    (x, y, u, v) = map(float, re.findall(r"-?[0-9.]+", line.get("d", "")))
    frame = frame_of(clip.analysis, 1.0)
    scene = scene_of(about_the_feet(clip), [frame], 396.0, 330.0, stature=1.0)
    assert x == u
    assert y > v, "1 is above 0"
    assert y - v == pytest.approx(scene.scale, rel=0.15)


def test_a_left_hander_is_drawn_as_filmed(clip: Clip) -> None:
    analysis = replace(clip.analysis, handedness=Judged(Handedness.LEFT, 1.0, given=True))
    one, other = drawn(clip, *FAR), drawn(replace(clip, analysis=analysis), *FAR)
    marks = [
        [e.attrib for e in figure(root)[0] if e.get("stroke") == MARK] for root in (one, other)
    ]
    assert marks[0] == marks[1]


def test_a_position_that_is_not_there_can_not_be_drawn() -> None:
    with pytest.raises(PositionNotShown):
        drawn(analysed(still_body()))
