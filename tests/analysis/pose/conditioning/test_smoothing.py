"""Smoothing: noise goes, and nothing of the movement with it."""

from __future__ import annotations

import numpy as np
import pytest

from service.analysis.pose.conditioning import WRISTS, condition, condition_all
from service.analysis.pose.points import N_POINTS
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


@pytest.mark.parametrize("fps", [30.0, 60.0, 240.0])
@pytest.mark.parametrize(("point", "frequency"), [(KNEE, 3.0), (WRIST, 4.5), (CLUBHEAD, 6.0)])
def test_a_sine_below_the_cutoff_passes_without_lag_or_loss(
    fps: float, point: int, frequency: float
) -> None:
    times = clock(fps, 3.0)
    x = 0.1 * np.sin(2 * np.pi * frequency * times)
    result = clean(with_path(times, point, x, 0.0), times).points[:, point, 0]
    inside = (times > 0.5) & (times < 2.5)
    wave = np.exp(-2j * np.pi * frequency * times[inside])
    gain = np.sum(result[inside] * wave) / np.sum(x[inside] * wave)
    assert abs(gain) == pytest.approx(1.0, abs=0.01)
    assert np.angle(gain) == pytest.approx(0.0, abs=0.005)


def test_three_decibels_are_lost_at_the_cutoff_of_the_body() -> None:
    times = clock(240.0, 4.0)
    x = 0.01 * np.sin(2 * np.pi * 8.0 * times)
    result = clean(with_path(times, KNEE, x, 0.0), times).points[:, KNEE, 0]
    inside = (times > 1.0) & (times < 3.0)
    assert np.ptp(result[inside]) / np.ptp(x[inside]) == pytest.approx(np.sqrt(0.5), abs=0.01)


def test_the_cutoff_does_not_follow_the_spacing_of_the_frames() -> None:
    times = np.concatenate([clock(60.0, 3.0), 3.0 + clock(240.0, 3.0)])
    x = 0.01 * np.sin(2 * np.pi * 6.0 * times)
    result = clean(with_path(times, KNEE, x, 0.0), times).points[:, KNEE, 0]
    coarse, fine = (times > 0.5) & (times < 2.5), (times > 3.5) & (times < 5.5)
    assert np.std(result[coarse]) == pytest.approx(np.std(result[fine]), rel=0.05)


def test_a_straight_line_passes_untouched_to_its_very_ends() -> None:
    times = clock(120.0, 1.0)
    points = with_path(times, WRIST, 0.7 * times, 1.0 - 0.2 * times)
    result = clean(points, times).points
    np.testing.assert_allclose(result[:, WRIST], points[:, WRIST], atol=1e-9)


@pytest.mark.parametrize("fps", [30.0, 60.0, 240.0])
@pytest.mark.parametrize("sigma", [0.003, 0.01])
def test_white_noise_is_recovered(fps: float, sigma: float) -> None:
    times = clock(fps, 3.0)
    result = clean(lively(times, noise=sigma), times)
    assert np.median(result.noise) == pytest.approx(sigma, rel=0.15)


def test_the_noise_of_a_long_clip_is_recovered_for_every_point() -> None:
    times = clock(240.0, 10.0)
    result = clean(lively(times, noise=0.005), times)
    np.testing.assert_allclose(result.noise, 0.005, rtol=0.15)


def test_uneven_frames_are_smoothed_nearly_as_well_as_even_ones() -> None:
    rng = np.random.default_rng(1)
    even = clock(240.0, 4.0)
    uneven = even + rng.uniform(-0.4, 0.4, len(even)) / 240.0
    noise = 0.005 * rng.standard_normal((len(even), N_POINTS, 2))
    errors = [
        np.std(clean(lively(times) + noise, times).points - lively(times))
        for times in (even, uneven)
    ]
    assert errors[1] < 1.15 * errors[0]


def test_doubling_the_frame_rate_changes_next_to_nothing() -> None:
    slow, fast = clock(120.0, 2.0), clock(240.0, 2.0)
    at_slow = clean(lively(slow), slow).points
    at_fast = clean(lively(fast), fast).points[::2]
    np.testing.assert_allclose(at_fast[10:-10], at_slow[10:-10], atol=3e-4)


def test_idle_frames_before_the_swing_change_next_to_nothing() -> None:
    times = clock(240.0, 2.0)
    points = with_path(times, WRIST, *swing(times, 0.35))
    points += 0.003 * np.random.default_rng(3).standard_normal(points.shape)
    idle = np.concatenate([points[:1].repeat(240, axis=0), points])
    longer = clock(240.0, 3.0)
    before, after = clean(points, times).points, clean(idle, longer).points[240:]
    np.testing.assert_allclose(after[24:], before[24:], atol=1e-4)


def test_a_wrist_is_smoother_where_it_is_unsure() -> None:
    times = clock(30.0, 4.0)
    points = lively(times)
    doubtful = slice(30, 90)
    jittering = points.copy()
    jittering[doubtful, WRIST] += np.random.default_rng(1).normal(0.0, 0.03, (60, 2))
    confidence = np.ones(points.shape[:2])
    confidence[doubtful, WRIST] = 0.3
    told = condition(jittering, confidence, times, scale=1.0)
    true = clean(points, times).points[:, WRIST]
    assert told.wrists is not None
    anew, before = (np.square(path - true) for path in (told.wrists[:, 0], told.points[:, WRIST]))
    assert anew[doubtful].mean() < 0.6 * before[doubtful].mean()
    assert anew[:20].max() < 1e-6


def test_wrists_that_are_sure_in_every_frame_are_smoothed_once() -> None:
    times = clock(30.0, 2.0)
    points = lively(times)
    confidence = np.full(points.shape[:2], 0.4)
    confidence[:, WRISTS] = 0.95
    assert condition(points, confidence, times, scale=1.0).wrists is None


def test_unsure_wrists_are_smoothed_together_with_other_clips_as_alone() -> None:
    clips = []
    for seed, fps in enumerate((24.0, 60.0, 120.0)):
        times = clock(fps, 1.0)
        points = lively(times, seed)
        sure = np.random.default_rng(seed).uniform(0.1, 1.0, points.shape[:2])
        clips.append((points, sure, times, 1.0))
    for (points, sure, times, scale), told in zip(clips, condition_all(clips), strict=True):
        alone = condition(points, sure, times, scale=scale)
        assert told.wrists is not None
        assert alone.wrists is not None
        np.testing.assert_allclose(told.wrists, alone.wrists, atol=1e-9)
