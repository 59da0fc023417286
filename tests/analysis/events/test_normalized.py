"""What was written by hand for speed, against library code that does the same."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline

from service.analysis.events.normalized import (
    GRID,
    N_DRAWS,
    PlacedSwing,
    phase_curve,
    time_normalize,
)
from service.analysis.events.normalized.interpolation import sample
from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import Position, Source, View


def moving_points(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Points on random ways at uneven times, shapes (40, 3, 2) and (40,)."""
    rng = np.random.default_rng(seed)
    times = np.cumsum(rng.uniform(0.005, 0.05, 40))
    return np.cumsum(rng.normal(0.0, 0.02, (40, 3, 2)), axis=0), times


def sampled(points: np.ndarray, times: np.ndarray, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Places and velocities, each of shape (n_at, n_points, 2)."""
    place, velocity = sample((points.T,), (times,), at[None])
    return place[0].T, velocity[0].T


@given(st.integers(0, 1000))
def test_sampling_is_a_cubic_hermite_spline_through_the_frames(seed):
    points, times = moving_points(seed)
    at = np.linspace(times[0], times[-1], 73)
    slopes = np.gradient(points, times, axis=0)
    place, velocity = sampled(points, times, at)
    np.testing.assert_allclose(place, CubicHermiteSpline(times, points, slopes)(at), atol=1e-12)
    for k in range(3):
        for axis in (0, 1):
            straight = np.interp(at, times, slopes[:, k, axis])
            np.testing.assert_allclose(velocity[:, k, axis], straight, atol=1e-9)


def test_a_frame_that_lacks_a_point_leaves_the_time_beside_it_open_but_not_the_next_frame():
    points, times = moving_points(1)
    points[20, 0] = np.nan
    place, velocity = sampled(points, times, np.array([times[19], 0.5 * (times[19] + times[20])]))
    np.testing.assert_array_equal(place[0, 0], points[19, 0])
    assert np.isnan(place[1, 0]).all()
    assert np.isfinite(place[:, 1:]).all()
    assert np.isfinite(velocity).all()


def test_a_time_that_is_not_known_has_no_place():
    points, times = moving_points(2)
    place, velocity = sampled(points, times, np.array([np.nan, times[3]]))
    assert np.isnan(place[0]).all()
    np.testing.assert_array_equal(place[1], points[3])
    assert np.isfinite(velocity).all()


@pytest.mark.parametrize("uncertainty", [0.0, 0.01])
def test_drawn_times_never_run_backward_and_drawn_poses_spread_as_the_noise_says(uncertainty):
    times = np.linspace(0.0, 2.0, 121)
    at = np.linspace(0.2, 1.8, 10)
    positions = [
        Position(n + 1, Source.OBSERVED, float(t), 60.0 * float(t), uncertainty)
        for n, t in enumerate(at)
    ]
    points = np.full((len(times), N_POINTS, 2), np.nan)
    points[:, Point.NOSE] = (0.0, 1.0)
    hands = np.column_stack([np.cos(times), np.sin(times)])
    noise = np.full(N_POINTS, 0.01)
    curve = phase_curve(times, hands, positions)
    swing = time_normalize((PlacedSwing(points, times, curve, positions, noise),), View.FACE_ON)
    assert (np.diff(swing.times, axis=1) >= 0.0).all()
    np.testing.assert_allclose(swing.times[0, ::8], at, atol=1e-9)
    drawn = swing.point(Point.NOSE)[1:]
    np.testing.assert_allclose((drawn - (0.0, 1.0)).std(), 0.01, rtol=0.15)
    assert np.isnan(swing.point(Point.HEAD)).all()
    assert swing.point(Point.NOSE).shape == (N_DRAWS + 1, len(GRID), 2)


def spread_of_the_nose(smoothed: float) -> float:
    """Of a swing whose thighs and shanks waver by a tenth of their length."""
    times = np.linspace(0.0, 2.0, 121)
    positions = [
        Position(n + 1, Source.OBSERVED, float(t), 60.0 * float(t), 0.0)
        for n, t in enumerate(np.linspace(0.2, 1.8, 10))
    ]
    points = np.full((len(times), N_POINTS, 2), np.nan)
    points[:, [Point.NOSE, Point.LEAD_HIP, Point.LEAD_KNEE, Point.LEAD_ANKLE]] = 0.0
    points[:, Point.LEAD_KNEE, 1] = -0.25 - 0.025 * np.sin(40.0 * times)
    points[:, Point.LEAD_ANKLE, 1] = -0.5
    curve = phase_curve(times, np.column_stack([np.cos(times), np.sin(times)]), positions)
    placed = PlacedSwing(points, times, curve, positions, np.full(N_POINTS, 0.005), smoothed)
    return float(time_normalize((placed,), View.FACE_ON).point(Point.NOSE)[1:].std())


def test_where_a_source_smooths_legs_that_waver_make_all_points_less_sure():
    assert spread_of_the_nose(1.0) > spread_of_the_nose(0.5) > 1.1 * spread_of_the_nose(0.0)


def at_rest(first_frame: float) -> tuple[np.ndarray, np.ndarray]:
    """A nose that trembles at rest, shape (n_frames,), and the x of its samples along the grid, of
    a clip that begins so long before P1."""
    times = np.arange(0.5 - first_frame, 2.0, 1.0 / 60.0)
    positions = [
        Position(n + 1, Source.OBSERVED, float(t), 60.0 * float(t), 0.0)
        for n, t in enumerate(np.linspace(0.5, 1.8, 10))
    ]
    points = np.full((len(times), N_POINTS, 2), np.nan)
    points[:, Point.NOSE, 0] = np.random.default_rng(0).normal(0.0, 0.01, len(times))
    points[:, Point.NOSE, 1] = 1.0
    curve = phase_curve(times, np.column_stack([np.cos(times), np.sin(times)]), positions)
    noise = np.full(N_POINTS, 0.01)
    swing = time_normalize((PlacedSwing(points, times, curve, positions, noise),), View.FACE_ON)
    return points[:, Point.NOSE, 0], swing.point(Point.NOSE)[..., 0]


def test_the_address_is_the_mean_of_the_rest_before_it_and_known_the_better():
    frames, along = at_rest(0.25)
    assert along[0, 0] == pytest.approx(frames[:16].mean(), abs=1e-9)
    # Of the drifting 0.7 of the variance the mean over 0.25 s leaves 0.6, of the steady 0.3 all.
    assert along[1:, 0].std() == pytest.approx(0.01 * np.sqrt(0.3 + 0.7 * 0.6), rel=0.2)


def test_a_clip_that_begins_with_the_swing_has_no_rest_to_average():
    frames, along = at_rest(0.0)
    assert along[0, 0] == frames[0]
