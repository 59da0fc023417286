"""Clips laid end to end are conditioned as each is alone."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
import pytest

from service.analysis.pose.conditioning import Conditioned, condition, condition_all
from service.analysis.pose.points import N_POINTS, both_sides
from service.analysis.types import FloatArray

Clip = tuple[FloatArray, FloatArray, FloatArray, float]


def clip(seed: int, n_frames: int, fps: float, scale: float = 2.0) -> Clip:
    """Points that wander, each about a place of its own."""
    rng = np.random.default_rng(seed)
    times = np.cumsum(rng.uniform(0.8, 1.2, n_frames)) / fps
    waves = np.sin(times[:, None, None] * rng.uniform(1.0, 9.0, (N_POINTS, 2)))
    points = scale * (rng.uniform(-0.5, 0.5, (N_POINTS, 2)) + 0.1 * waves)
    return (
        points + 0.002 * rng.standard_normal(points.shape),
        np.ones(points.shape[:2]),
        times,
        scale,
    )


def with_gaps(of: Clip) -> Clip:
    points = of[0].copy()
    points[20:23, 3:9], points[30:60, 12], points[:9, 14], points[:, 5] = [np.nan] * 4
    return points, *of[1:]


def with_spikes(of: Clip) -> Clip:
    points = of[0].copy()
    points[[0, 1, 25, 40, -2, -1], 14:17] += of[3]
    points[22, 3] += of[3]
    return points, *of[1:]


def with_swaps(of: Clip) -> Clip:
    points = of[0].copy()
    left, right = both_sides("hip", "knee", "ankle", "heel", "toe")
    for frames in (slice(0, 1), slice(30, 34), slice(-1, None)):
        points[frames, left], points[frames, right] = points[frames, right], points[frames, left]
    return points, *of[1:]


def unsure(of: Clip) -> Clip:
    return of[0], np.where(np.arange(N_POINTS) % 3 == 0, 0.1, of[1]), *of[2:]


CLIPS = {
    "plain": clip(1, 80, 60.0),
    "of another rate, count and size": clip(2, 121, 240.0, scale=900.0),
    "with gaps": with_gaps(clip(3, 80, 60.0)),
    "with spikes": with_spikes(clip(4, 80, 60.0)),
    "with spikes and gaps": with_spikes(with_gaps(clip(5, 90, 30.0))),
    "with swaps": with_swaps(clip(6, 80, 60.0)),
    "of one frame": clip(7, 1, 60.0),
    "of two frames": clip(8, 2, 60.0),
    "of unsure points": unsure(clip(9, 70, 120.0)),
    "of nothing": (
        np.full((50, N_POINTS, 2), np.nan),
        np.zeros((50, N_POINTS)),
        np.arange(50.0),
        1.0,
    ),
    "of huge numbers": clip(10, 80, 60.0, scale=1e150),
    "of the slowest camera": with_spikes(clip(11, 60, 15.0)),
}


def same(one: Conditioned, other: Conditioned) -> None:
    for name, value in asdict(one).items():
        np.testing.assert_array_equal(value, asdict(other)[name], err_msg=name)


@pytest.fixture(scope="module")
def alone() -> dict[str, Conditioned]:
    return {
        name: condition(points, confidence, times, scale=scale)
        for name, (points, confidence, times, scale) in CLIPS.items()
    }


def test_what_is_done_to_the_clips_is_worth_comparing(alone):
    assert alone["with spikes"].outliers_removed > 0
    assert alone["with spikes and gaps"].outliers_removed > 0
    assert alone["with swaps"].swaps_repaired > 0
    assert np.isnan(alone["with gaps"].points[:, 5]).all()


@pytest.mark.parametrize("seed", range(4))
def test_each_of_many_clips_gets_to_the_last_digit_what_it_gets_alone(alone, seed):
    names = np.random.default_rng(seed).permutation(list(CLIPS)).tolist()
    for name, told in zip(names, condition_all([CLIPS[name] for name in names]), strict=True):
        same(told, alone[name])


def test_more_frames_than_are_laid_end_to_end_come_back_in_order(alone):
    names = ["plain", "with gaps", "of another rate, count and size"] * 25
    for name, told in zip(names, condition_all([CLIPS[name] for name in names]), strict=True):
        same(told, alone[name])


def test_no_clips_are_conditioned_to_none():
    assert condition_all([]) == []
