"""Conditioning: what is cleaned, and above all what is left alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.analysis.pose.conditioning import condition
from tests.analysis.pose.conditioning.made import (
    KNEE,
    LEGS,
    WRIST,
    clean,
    clock,
    empty,
    exchanged,
    lively,
    with_path,
)


def test_a_five_frame_gap_is_filled_and_a_long_one_is_not() -> None:
    times = clock(240.0, 2.0)
    x = 0.1 * np.sin(2 * np.pi * 1.5 * times)
    points = with_path(times, WRIST, x, 0.0)
    points[100:105] = np.nan
    points[240:312] = np.nan
    result = clean(points, times)
    np.testing.assert_allclose(result.points[100:105, WRIST, 0], x[100:105], atol=5e-4)
    assert np.isnan(result.points[240:312, WRIST]).all()
    assert not result.observed[100:105, WRIST].any()
    assert not result.observed[240:312, WRIST].any()
    assert result.observed[:, WRIST].sum() == len(times) - 77


def test_nothing_is_extrapolated() -> None:
    times = clock(60.0, 1.0)
    points = with_path(times, KNEE, times, 0.0)
    points[:2] = points[-2:] = np.nan
    result = clean(points, times).points
    assert np.isnan(result[:2]).all()
    assert np.isnan(result[-2:]).all()
    np.testing.assert_allclose(result[2:-2, KNEE, 0], times[2:-2], atol=1e-9)


def test_the_two_sides_of_a_long_gap_do_not_touch() -> None:
    times = clock(60.0, 2.0)
    points = with_path(times, KNEE, np.sin(8 * times), 0.0)
    points[50:80] = np.nan
    moved = points.copy()
    moved[80:, KNEE] += 5.0
    before, after = clean(points, times).points, clean(moved, times).points
    np.testing.assert_allclose(after[:50], before[:50], atol=1e-12)
    np.testing.assert_allclose(after[80:, KNEE], before[80:, KNEE] + 5.0, atol=1e-12)


def test_a_guess_of_low_confidence_counts_as_missing() -> None:
    times = clock(60.0, 1.0)
    points = lively(times)
    confidence = np.ones(points.shape[:2])
    confidence[:, KNEE] = 0.1
    result = condition(points, confidence, times, scale=1.0)
    assert np.isnan(result.points[:, KNEE]).all()
    assert np.isnan(result.noise[KNEE])
    assert np.isfinite(result.noise[WRIST])


@pytest.mark.parametrize("n_frames", [1, 2, 3, 4])
def test_the_shortest_clips_come_through(n_frames: int) -> None:
    times = np.arange(n_frames) / 30.0
    points = lively(times)
    result = clean(points, times)
    assert result.points.shape == points.shape
    assert np.isfinite(result.points).all()
    assert np.isfinite(result.frame_rate) == (n_frames > 1)


def test_scattered_single_frames_pass_as_they_are() -> None:
    times = clock(30.0, 2.0)
    points = lively(times)
    points[np.arange(len(times)) % 8 != 0] = np.nan
    np.testing.assert_allclose(clean(points, times).points, points)


def test_a_clip_without_points_stays_empty() -> None:
    times = clock(60.0, 1.0)
    result = clean(empty(times), times)
    assert np.isnan(result.points).all()
    assert not result.observed.any()
    assert np.isnan(result.noise).all()


@settings(max_examples=25, deadline=None)
@given(
    shift=st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3)),
    scale=st.floats(0.01, 1e3),
    turn=st.floats(-np.pi, np.pi),
    offset=st.floats(-100, 100),
    seed=st.integers(0, 2**16),
)
def test_moving_the_camera_or_the_clock_moves_the_result(
    shift: tuple[float, float], scale: float, turn: float, offset: float, seed: int
) -> None:
    times = clock(60.0, 1.0)
    points = lively(times, seed, noise=0.005)
    gone = np.random.default_rng(seed).random(points.shape[:2]) < 0.1
    gone[15:35] = False
    points[gone] = np.nan
    points[30, WRIST] += 0.5
    points = exchanged(points, LEGS, 20, 23)
    spin = scale * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    plain = clean(points, times)
    moved = clean(points @ spin.T + np.array(shift), times + offset, scale)
    np.testing.assert_array_equal(moved.observed, plain.observed)
    assert moved.swaps_repaired == plain.swaps_repaired == 1
    assert not plain.observed[30, WRIST]
    expected = plain.points @ spin.T + np.array(shift)
    np.testing.assert_allclose(moved.points, expected, atol=1e-6 * scale + 1e-8)
    larger = clean(points * scale, times, scale)
    np.testing.assert_allclose(larger.noise, plain.noise * scale, rtol=1e-6)


def test_frames_must_advance_in_time() -> None:
    times = np.array([0.0, 0.1, 0.1])
    with pytest.raises(ValueError, match="times must be strictly increasing"):
        clean(empty(times), times)


@pytest.mark.parametrize("scale", [0.0, -1.0, float("nan")])
def test_the_scale_must_be_a_length(scale: float) -> None:
    times = clock(30.0, 1.0)
    with pytest.raises(ValueError, match="scale must be a positive length"):
        clean(empty(times), times, scale)


def test_there_must_be_a_frame() -> None:
    with pytest.raises(ValueError, match="one frame at least"):
        clean(empty(np.zeros(0)), np.zeros(0))


def test_shapes_must_agree() -> None:
    times = clock(30.0, 1.0)
    with pytest.raises(ValueError, match="points must have shape"):
        clean(empty(times)[1:], times)
    with pytest.raises(ValueError, match="confidence must have shape"):
        condition(empty(times), np.ones((3, 3)), times, scale=1.0)
