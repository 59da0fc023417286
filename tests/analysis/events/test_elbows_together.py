from __future__ import annotations

import numpy as np
import pytest

from service.analysis.events.normalized import GRID, grid_index
from service.analysis.events.normalized.elbows_together import widen_elbows
from service.analysis.pose.points import Point
from service.analysis.types import View

SEEN = np.array([Point.NOSE, Point.LEAD_ELBOW, Point.TRAIL_ELBOW])
TOP = grid_index(4.0)


def errors(apart: float, view: View) -> np.ndarray:
    """Widened from 0.01, elbows so far apart all through the swing; shape (3, n_grid)."""
    best = np.zeros((1, 2, 3, len(GRID)))
    best[:, 0, 2] = apart
    return widen_elbows(np.full((1, 3, len(GRID)), 0.01), best, SEEN, view)[0]


def test_elbows_laid_together_at_the_top_may_be_off_by_what_they_lack_of_their_usual_distance():
    wide = errors(0.06, View.DOWN_THE_LINE)
    assert wide[1:, TOP] == pytest.approx(np.hypot(0.01, 0.10))
    assert wide[0] == pytest.approx(0.01)
    assert wide[:, grid_index(7.0)] == pytest.approx(0.01)


@pytest.mark.parametrize(("apart", "view"), [(0.13, View.DOWN_THE_LINE), (0.06, View.FACE_ON)])
def test_elbows_where_they_may_well_be_are_as_sure_as_before(apart, view):
    assert errors(apart, view) == pytest.approx(0.01)
