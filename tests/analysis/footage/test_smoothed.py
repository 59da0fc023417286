"""Places that were smoothed before they were sent are told, where that bends what is measured."""

import dataclasses
from itertools import pairwise

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.footage.picture.smoothed import are_smoothed
from service.analysis.pose.stature import body_height
from service.analysis.types import View
from tests.swings import clip


def placed(view, fps):
    """A clip whose joints are placed anew in every frame, and err much as in the one before."""
    _, seen = clip(view, fps=fps)
    error = np.random.default_rng(3).normal(0.0, 0.004, seen.points.shape)
    for before, after in pairwise(error):
        after += 0.9 * before
    return dataclasses.replace(seen, points=seen.points + error * body_height(seen.points))


def smoothed(seen, share=0.3):
    """Each place a share of the one measured, the rest of the one before."""
    points = seen.points.copy()
    for before, after in pairwise(points):
        after[:] = share * after + (1.0 - share) * before
    return dataclasses.replace(seen, points=points)


def swayed(seen):
    """As a camera shows it that goes to and fro twice a second."""
    off = 0.02 * body_height(seen.points) * np.sin(4.0 * np.pi * seen.times)
    return dataclasses.replace(seen, points=seen.points + off[:, None, None])


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("share", [0.35, 0.25])
def test_at_few_frames_a_second_no_height_at_impact_is_judged_of_smoothed_places(view, share):
    result = analyse(smoothed(placed(view, 30.0), share))
    assert "places_smoothed" in result.quality.codes
    reasons = {f.fault: f.reason.code for f in result.findings if f.reason}
    assert reasons["handle_rise"] == "places_smoothed"
    assert "places_smoothed" not in {
        code for name, code in reasons.items() if name != "handle_rise"
    }


@pytest.mark.parametrize("view", list(View))
def test_places_that_were_not_smoothed_are_not_told(view):
    seen = placed(view, 30.0)
    assert "places_smoothed" not in analyse(seen).quality.codes
    assert not are_smoothed(swayed(seen).points, 30.0)


def test_a_motion_that_was_computed_was_not_smoothed():
    _, seen = clip(View.FACE_ON, fps=30.0)
    assert not are_smoothed(seen.points, 30.0)


def test_at_more_frames_a_second_smoothing_bends_nothing():
    points = smoothed(placed(View.FACE_ON, 30.0)).points
    assert are_smoothed(points, 30.0)
    assert not are_smoothed(points, 60.0)


def test_joints_that_are_hardly_seen_tell_nothing():
    points = smoothed(placed(View.FACE_ON, 30.0)).points
    points[4:] = np.nan
    assert not are_smoothed(points, 30.0)
