"""Sampling of a swing on the grid of positions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicHermiteSpline

from service.analysis.events.normalized import _sample


@pytest.mark.parametrize("seed", range(5))
def test_sampling_between_frames_is_scipys_hermite_spline(seed):
    rng = np.random.default_rng(seed)
    times = np.cumsum(rng.uniform(0.5, 1.5, 40)) / 60.0
    points = np.cumsum(rng.standard_normal((40, 3, 2)), axis=0)
    at = rng.uniform(times[0], times[-1], 25)
    at[3], at[4], at[5] = times[0], times[-1], times[17]
    place, _ = _sample(points, times, at)
    spline = CubicHermiteSpline(times, points, np.gradient(points, times, axis=0))
    np.testing.assert_allclose(place, spline(at), atol=1e-9)


def test_nothing_is_sampled_next_to_a_missing_frame_but_on_a_frame_seen():
    times = np.arange(6) / 30.0
    points = np.arange(12.0).reshape(6, 1, 2)
    points[3] = np.nan
    place, _ = _sample(points, times, np.array([times[2], times[2] + 0.01, np.nan, times[5]]))
    assert np.isfinite(place[[0, 3]]).all()
    assert np.isnan(place[[1, 2]]).all()
