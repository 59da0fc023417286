"""Arrows of faults' pictures: how far, and which way, it should go."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import ANATOMICAL, Point
from service.analysis.types import View
from service.report.drawing.measured.marks import Growth, Mark, Poses, Turn, mark_of
from service.report.drawing.measured.measures import ShownMeasure
from tests.report.pictures.drawn import (
    SEEN,
    SVG,
    analysed,
    arrows_of,
    draw,
    marks_of,
    panels_of,
    showing,
    telling,
    text_of,
)


def test_the_arrow_is_as_long_as_the_travel_it_stands_for() -> None:
    clip = analysed(View.FACE_ON)
    heel = ANATOMICAL.index("right_heel")

    def arrow(lifted: float) -> float:
        points = clip.recording.points.copy()
        late = clip.analysis.coordinate > 4.0
        points[late, heel] -= [0.0, lifted]
        moved = replace(clip, recording=replace(clip.recording, points=points))
        root = draw({"Now": moved}, "handle_rise", View.FACE_ON)
        assert marks_of(root)  # the scene stays that of the whole body
        root = draw({"Now": moved}, "trail_heel_kick", View.FACE_ON)
        up = next(p for p in marks_of(root) if p.get("stroke-width") == "3.5")
        x0, y0, x1, y1 = map(float, (up.get("d") or "").replace("M", "").replace("L", "").split())
        assert x0 == pytest.approx(x1, abs=0.11)
        return y0 - y1

    small, large = arrow(0.0), arrow(40.0)
    assert large > small > 0.0


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_an_arrow_says_which_way_it_should_go_where_it_is_not_right(fault: str, view: View) -> None:
    root = draw({"Now": showing(fault, view)}, fault, view)
    (figure,) = (panel.find(f"{SVG}svg") for panel in panels_of(root))
    assert figure is not None
    arrows = arrows_of(figure)
    assert arrows
    assert ("Which way it should go" in text_of(root)) == bool(marks_of(figure))


@pytest.mark.parametrize(("fault", "view"), SEEN)
def test_what_is_right_already_gets_no_arrow(fault: str, view: View) -> None:
    good = telling(fault, view, lambda criterion: criterion.threshold)
    (panel,) = panels_of(draw({"Now": good}, fault, view))
    figure = panel.find(f"{SVG}svg")
    assert figure is not None
    assert arrows_of(figure) == []


def test_an_arrow_ends_where_the_threshold_is() -> None:
    criterion = CATALOGUE["trail_heel_kick"].criteria[View.FACE_ON][0]
    clip = showing("trail_heel_kick", View.FACE_ON)
    (measured,) = (m for m in clip.analysis.measures if m.name == criterion.measure.name)
    heel = np.array([100.0, 50.0])
    mark = Mark((), (), growth=Growth(heel, np.array([0.0, -1.0]), per_unit=10.0))
    arrow = ShownMeasure(criterion, measured, mark).arrow
    assert arrow is not None
    down = arrow[-1] - arrow[0]
    assert down[0] == pytest.approx(0.0)
    assert down[1] == pytest.approx(10.0 * (criterion.marked - criterion.threshold))


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_an_arrow_of_a_turn_leads_to_more_of_it_where_there_is_too_little(
    way: float,
) -> None:
    (criterion,) = (
        c
        for c in CATALOGUE["chest_stall"].criteria[View.FACE_ON]
        if c.measure.name == "chest_turn_through"
    )
    measured = replace(
        showing("chest_stall", View.FACE_ON).analysis.measures[0],
        name=criterion.measure.name,
        value=criterion.marked,
    )
    mark = Mark((), (), turn=Turn(np.array([50.0, 50.0]), half_width=20.0, way=way))
    arrow = ShownMeasure(criterion, measured, mark).arrow
    assert arrow is not None
    assert criterion.marked < criterion.threshold
    assert np.sign((arrow[-1] - arrow[0])[0]) == way


def _way_back(forward: float) -> np.ndarray:
    """The arrow of an arm that swung past the vertical."""
    pose = np.zeros((len(Point), 2))
    pose[Point.LEAD_SHOULDER], pose[Point.LEAD_WRIST] = (0.0, 0.0), (5.0 * forward, -100.0)
    poses = Poses(pose, pose, pose, stature=300.0, forward=forward, view=View.FACE_ON)
    mark = mark_of("lead_arm_swing", poses)
    assert mark is not None
    criterion = CATALOGUE["long_backswing"].criteria[View.FACE_ON][0]
    clip = showing("long_backswing", View.FACE_ON)
    (measured,) = (m for m in clip.analysis.measures if m.name == "lead_arm_swing")
    arrow = ShownMeasure(criterion, replace(measured, value=183.0), mark).arrow
    assert arrow is not None
    return arrow


@pytest.mark.parametrize("forward", [1.0, -1.0])
def test_an_arm_past_the_vertical_is_shown_the_way_back(forward: float) -> None:
    arrow = _way_back(forward)
    assert forward * (arrow[-1] - arrow[0])[0] < 0.0  # away from the target
    assert arrow[-1][1] > arrow[0][1]  # and down
