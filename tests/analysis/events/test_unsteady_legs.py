"""Errors that the lengths of legs show where no jitter does."""

import numpy as np
import pytest

from service.analysis.events.normalized import GRID
from service.analysis.events.normalized.unsteady_legs import unsteadiness
from service.analysis.pose.points import Point
from service.analysis.types import View

SEEN = np.array([Point.LEAD_HIP, Point.TRAIL_HIP, Point.LEAD_KNEE, Point.LEAD_ANKLE])
NOISE = 0.01


def factor(change, seen=SEEN, view=View.FACE_ON, lost=None):
    """Of one swing whose thigh and shank change their lengths by so much, one standard deviation,
    in units of what the errors of two points come to."""
    knee = 0.25 + change * np.sqrt(2.0) * NOISE * (-1.0) ** np.arange(len(GRID))
    heights = {Point.LEAD_HIP: 0.0, Point.TRAIL_HIP: 0.0, Point.LEAD_KNEE: -knee}
    best = np.zeros((1, 2, len(seen), len(GRID)))
    for k, point in enumerate(seen.tolist()):
        best[0, 1, k] = heights.get(point, -0.5)
    if lost is not None:
        best[0, :, seen.tolist().index(lost)] = np.nan
    return unsteadiness(best, np.full((1, len(seen)), NOISE), seen, view)[0]


def test_legs_that_keep_their_lengths_say_nothing_of_the_errors():
    assert factor(0.0) == factor(0.2) == 1.0


def test_the_more_they_change_the_farther_off_points_may_be_though_by_less_than_that():
    assert 1.0 < factor(1.0) < factor(2.0) < 2.0 * factor(1.0)


def test_down_the_line_less_is_unusual():
    assert factor(1.0, view=View.DOWN_THE_LINE) > factor(1.0)


def test_it_is_told_by_the_legs_that_are_seen():
    assert factor(1.0, lost=Point.LEAD_ANKLE) == pytest.approx(factor(1.0))
    assert factor(1.0, lost=Point.LEAD_KNEE) == 1.0
    assert factor(1.0, seen=np.array([Point.NOSE, Point.LEAD_HIP])) == 1.0
