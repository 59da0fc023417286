"""Sides that an estimator exchanged are put right, and others left alone."""

from __future__ import annotations

import numpy as np
import pytest

from service.analysis.pose.conditioning import condition
from service.analysis.pose.keypoint_error import pose_error
from service.analysis.pose.points import N_POINTS
from service.analysis.types import FloatArray
from tests.analysis.pose.conditioning.made import (
    ARMS,
    LEGS,
    clean,
    clock,
    empty,
    exchanged,
    lively,
    sides,
    swing,
)


def standing(times: FloatArray) -> FloatArray:
    points = lively(times)
    points[:, [*ARMS[0], *LEGS[0]], 0] = 0.0
    points[:, [*ARMS[1], *LEGS[1]], 0] = 0.25
    return points


@pytest.mark.parametrize("limb", [ARMS, LEGS])
@pytest.mark.parametrize(("fps", "length"), [(30.0, 3), (240.0, 3), (240.0, 40)])
def test_a_short_swap_is_repaired_and_nothing_else_touched(
    limb: list[list[int]], fps: float, length: int
) -> None:
    times = clock(fps, 2.0)
    points = standing(times)
    middle = len(times) // 2
    result = clean(exchanged(points, limb, middle, middle + length), times)
    assert (result.swaps_repaired, result.outliers_removed) == (1, 0)
    np.testing.assert_array_equal(result.points, clean(points, times).points)


def test_a_joint_seen_on_one_side_only_is_exchanged_with_its_limb() -> None:
    times = clock(60.0, 1.0)
    points = standing(times)
    points[:, LEGS[0][1:]] = np.nan
    swapped = exchanged(points, LEGS, 30, 33)
    np.testing.assert_array_equal(clean(swapped, times).points, clean(points, times).points)


def test_a_long_swap_of_the_arms_is_left_alone() -> None:
    times = clock(60.0, 2.0)
    assert clean(exchanged(standing(times), ARMS, 40, 80), times).swaps_repaired == 0


UPPER = sides("eye", "ear", "shoulder", "elbow", "wrist", "hand", "hip")


@pytest.mark.parametrize(("first", "last"), [(0, 20), (40, 80), (50, 120)])
def test_trunk_arms_and_face_that_change_sides_at_once_are_exchanged_back_however_long(
    first: int, last: int
) -> None:
    times = clock(60.0, 2.0)
    points = standing(times)
    result = clean(exchanged(points, UPPER, first, last), times)
    assert result.swaps_repaired == 1
    np.testing.assert_array_equal(result.points, clean(points, times).points)


@pytest.mark.parametrize("fps", [24.0, 30.0, 60.0])
def test_a_trunk_that_turns_through_the_line_of_sight_is_left_alone(fps: float) -> None:
    times = clock(fps, 2.0)
    points = standing(times)
    # Shoulders and hips 0.25 and 0.2 apart, at 900 degrees a second
    across = np.cos(np.radians(np.clip(900.0 * (times - 1.0), 0.0, 180.0)))
    for (left, right), reach in (((10, 11), 0.125), ((12, 13), 0.15), ((18, 19), 0.1)):
        points[:, left, 0], points[:, right, 0] = -reach * across, reach * across
    assert clean(points, times).swaps_repaired == 0


@pytest.mark.parametrize(("first", "last"), [(0, 20), (40, 80), (50, 120)])
def test_legs_that_change_places_are_exchanged_back_however_long(first: int, last: int) -> None:
    times = clock(60.0, 2.0)
    points = standing(times)
    result = clean(exchanged(points, LEGS, first, last), times)
    assert result.swaps_repaired == 1
    np.testing.assert_array_equal(result.points, clean(points, times).points)


def test_a_leg_put_past_the_other_is_not_exchanged() -> None:
    times = clock(60.0, 2.0)
    points = standing(times)
    points[60:, LEGS[0], 0] += 0.5
    assert clean(points, times).swaps_repaired == 0


@pytest.mark.parametrize("fps", [10.0, 15.0, 20.0, 30.0, 60.0, 240.0])
@pytest.mark.parametrize("steps_a_second", [1.0, 2.0, 3.0, 5.0])
def test_legs_that_cross_in_walking_and_running_are_not_swapped(
    fps: float, steps_a_second: float
) -> None:
    times = clock(fps, 4.0)
    stride = 0.15 * np.sin(np.pi * steps_a_second * times + np.pi / 8)
    points = empty(times)
    for reach, left, right in zip((0.5, 1.0, 1.0, 1.1, 1.1), *LEGS, strict=True):
        points[:, left, 0], points[:, right, 0] = reach * stride, -reach * stride
        points[:, [left, right], 1] = reach
    result = clean(points, times)
    assert (result.swaps_repaired, result.outliers_removed) == (0, 0)


@pytest.mark.parametrize("fps", [30.0, 240.0])
def test_hands_together_on_a_noisy_club_are_not_swapped(fps: float) -> None:
    times = clock(fps, 2.0)
    x, y = swing(times, 0.35)
    points = empty(times)
    for reach, left, right in zip((0.6, 0.9, 1.0), *ARMS, strict=True):
        points[:, left] = reach * np.stack([x - 0.02, y], axis=1)
        points[:, right] = reach * np.stack([x + 0.02, y], axis=1)
    points += 0.01 * np.random.default_rng(4).standard_normal(points.shape)
    assert clean(points, times).swaps_repaired == 0


def test_sides_on_top_of_each_other_are_not_swapped() -> None:
    times = clock(60.0, 4.0)
    points = np.ones((len(times), N_POINTS, 2))
    points += 0.01 * np.random.default_rng(6).standard_normal(points.shape)
    assert clean(points, times).swaps_repaired == 0


@pytest.mark.parametrize("fps", [10.0, 12.0, 15.0, 30.0])
@pytest.mark.parametrize("speed", [5.0, 10.0, 15.0, 20.0])
def test_sides_that_turn_fast_are_not_swapped(fps: float, speed: float) -> None:
    times = clock(fps, 3.0)
    points = empty(times)
    reach = 0.12 * np.stack([np.cos(speed * times), np.sin(speed * times)], axis=1)
    points[:, ARMS[0]], points[:, ARMS[1]] = reach[:, None], -reach[:, None]
    assert clean(points, times).swaps_repaired == 0


@pytest.mark.parametrize(
    ("limb", "first", "last"), [(ARMS, 60, 63), (LEGS, 40, 80), (UPPER, 50, 120)]
)
def test_how_sure_a_point_is_goes_back_with_it(
    limb: list[list[int]], first: int, last: int
) -> None:
    times = clock(60.0, 2.0)
    points = standing(times)
    sure = np.full(points.shape[:2], 0.98)
    sure[:, limb[0]] = 0.5
    told = exchanged(sure[..., None], limb, first, last)[..., 0]
    sent = told.copy()
    result = condition(exchanged(points, limb, first, last), told, times, scale=1.0)
    assert result.swaps_repaired == 1
    np.testing.assert_array_equal(result.confidence, sure)
    np.testing.assert_array_equal(told, sent)
    error = pose_error(result, 1.0).points
    assert error[limb[0]].min() > error[limb[1]].max()
