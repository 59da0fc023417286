"""Outliers: spikes are dropped, and fast movement is none."""

from __future__ import annotations

import numpy as np
import pytest

from tests.analysis.pose.conditioning.made import (
    CLUBHEAD,
    KNEE,
    WRIST,
    clean,
    clock,
    lively,
    swing,
    with_path,
)


@pytest.mark.parametrize(
    ("fps", "length"), [(30.0, 1), (30.0, 2), (60.0, 2), (240.0, 2), (240.0, 6)]
)
def test_a_spike_on_a_straight_line_is_dropped_and_filled(fps: float, length: int) -> None:
    times = clock(fps, 2.0)
    line = with_path(times, WRIST, 0.3 * times, 0.5)
    spiked = line.copy()
    middle = slice(len(times) // 2, len(times) // 2 + length)
    spiked[middle, WRIST, 1] += 0.4
    result = clean(spiked, times)
    assert result.outliers_removed == length
    assert not result.observed[middle, WRIST].any()
    np.testing.assert_allclose(result.points[:, WRIST], line[:, WRIST], atol=1e-6)


def test_spikes_are_found_beside_missing_frames() -> None:
    times = clock(60.0, 2.0)
    points = with_path(times, KNEE, 0.1 * times, 0.0)
    points[61:63] = np.nan
    points[60, KNEE, 1] = 0.5
    result = clean(points, times)
    assert result.outliers_removed == 1
    assert not result.observed[60, KNEE]


@pytest.mark.parametrize("fps", [25.0, 30.0, 60.0, 120.0, 240.0])
@pytest.mark.parametrize(("point", "radius"), [(WRIST, 0.35), (CLUBHEAD, 0.95)])
@pytest.mark.parametrize("offset", [0.0, 0.25, 0.5, 0.75])
def test_a_full_speed_swing_loses_nothing(
    fps: float, point: int, radius: float, offset: float
) -> None:
    times = clock(fps, 2.0)
    points = with_path(times, point, *swing(times + offset / fps, radius))
    assert clean(points, times).outliers_removed == 0


@pytest.mark.parametrize("fps", [30.0, 240.0])
def test_a_full_speed_swing_keeps_its_shape(fps: float) -> None:
    times = clock(fps, 2.0)
    points = with_path(times, WRIST, *swing(times, 0.35))
    points[:, CLUBHEAD] = np.stack(swing(times, 0.95), axis=1)
    strayed = np.linalg.norm(clean(points, times).points - points, axis=2)
    assert strayed[:, WRIST].max() < 0.01
    assert strayed[:, CLUBHEAD].max() < 0.01


@pytest.mark.parametrize("fps", [30.0, 60.0, 240.0])
def test_a_fast_parabola_turn_is_left_unharmed(fps: float) -> None:
    times = clock(fps, 1.0)
    turn = 20.0 * np.square(times - 0.5)
    result = clean(with_path(times, WRIST, 0.5 * times, np.minimum(turn, 1.0)), times)
    assert result.outliers_removed == 0
    about = np.abs(times - 0.5) < 0.15
    np.testing.assert_allclose(result.points[about, WRIST, 1], turn[about], atol=0.002)


@pytest.mark.parametrize(("fps", "spikes"), [(30.0, 0), (240.0, 1)])
def test_a_flick_is_motion_if_a_hand_can_make_it_between_two_frames(
    fps: float, spikes: int
) -> None:
    times = clock(fps, 1.0)
    x = np.zeros(len(times))
    x[len(times) // 2] = 0.1
    assert clean(with_path(times, WRIST, x, 0.0), times).outliers_removed == spikes


def test_a_point_that_moves_once_and_stays_is_no_outlier() -> None:
    times = clock(30.0, 2.0)
    result = clean(with_path(times, KNEE, np.where(times < 1.0, 0.0, 0.2), 0.0), times)
    assert result.outliers_removed == 0


def test_noise_alone_makes_no_outliers() -> None:
    times = clock(240.0, 4.0)
    assert clean(lively(times, noise=0.02), times).outliers_removed == 0
