"""Starts told from all the first frames of a movement, against curves whose start is known."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.analysis.events.positions.searches.onsets import (
    IN_PLACE,
    _fits,
    joint_leaving_time,
    leaving_time,
    onset,
)

CLOCK = np.arange(-0.3, 0.35, 1 / 60)


@given(power=st.sampled_from([1.5, 2.0, 3.0, 4.0]), size=st.floats(2.0, 8.0))
def test_any_of_its_curves_is_told_to_a_few_milliseconds(power, size):
    gone = size * np.clip(CLOCK, 0.0, None) ** power
    assert onset(CLOCK, gone, 0.02).time == pytest.approx((0.02 / size) ** (1 / power), abs=0.012)


def test_jitter_larger_than_the_level_leaves_the_start_within_two_frames():
    rng = np.random.default_rng(0)
    off = [
        onset(
            CLOCK, 3.0 * np.clip(CLOCK, 0, None) ** 2 + rng.normal(0, 0.012, CLOCK.size), 0.01
        ).time
        - np.sqrt(0.01 / 3.0)
        for _ in range(50)
    ]
    assert np.sqrt(np.mean(np.square(off))) < 2 / 60


def test_a_start_is_the_less_sure_the_more_it_jitters():
    jitter = np.random.default_rng(2).normal(0.0, 1.0, CLOCK.size)
    way = 3.0 * np.clip(CLOCK, 0.0, None) ** 2
    spreads = [onset(CLOCK, way + size * jitter, 0.01).spread for size in (0.0, 0.008, 0.03)]
    assert spreads[0] < spreads[1] < spreads[2]
    assert spreads[0] < 0.01


def test_the_best_curve_is_that_of_a_straight_least_squares_fit():
    moments = np.linspace(0.0, 1.0, 21)
    way = np.clip(moments - 0.4, 0.0, None) ** 2 + 0.003 * np.sin(40.0 * moments)
    starts, fits, sizes = _fits(np.rint(moments * 1e12).tobytes())
    left = ((way - way.mean()) ** 2).sum() - (fits @ (way - way.mean())) ** 2 * sizes
    for k in (0, 40, 77, 127):
        start, power = starts[k], (1.5, 2.0, 3.0, 4.0)[k // 32]
        curve = (np.clip(moments - start, 0.0, None) / (1.0 - start)) ** power
        parts = np.column_stack([curve, np.ones(21)])
        (slope, _), (residual,), *_ = np.linalg.lstsq(parts, way, rcond=None)
        assert fits[k] @ way == pytest.approx(slope, rel=1e-9)
        assert left[k] == pytest.approx(residual, rel=1e-7)


def test_frames_not_seen_are_left_out():
    gone = 3.0 * np.clip(CLOCK, 0.0, None) ** 2
    holed = np.where(np.arange(CLOCK.size) % 4 == 0, np.nan, gone)
    told = onset(CLOCK, gone, 0.02).time
    assert onset(CLOCK, holed, 0.02).time == pytest.approx(told, abs=0.01)


def test_too_few_frames_and_shrinking_ways_tell_nothing():
    assert np.isnan(onset(CLOCK[:3], np.arange(3.0), 0.02).time)
    assert np.isnan(onset(CLOCK, -(np.clip(CLOCK, 0.0, None) ** 2), 0.02).time)


def test_a_path_leaves_its_place_whatever_its_direction():
    way = 3.0 * np.clip(CLOCK, 0.0, None) ** 2
    path = np.column_stack([0.5 - 0.6 * way, 0.2 + 0.8 * way])
    still = int(np.searchsorted(CLOCK, -0.01))
    told = leaving_time(CLOCK, path, (0, still), 0.3)
    assert told.time == pytest.approx(np.sqrt(IN_PLACE / 3.0), abs=0.01)


@pytest.mark.parametrize("bends", [False, True])
def test_a_way_that_bends_is_told_in_the_direction_in_which_it_leaves(bends):
    turn = 3.0 * np.clip(CLOCK, 0.0, None) ** 2 / 0.04  # round a circle of that radius
    path = 0.04 * np.column_stack([1.0 - np.cos(turn), np.sin(turn)])
    still = int(np.searchsorted(CLOCK, -0.01))
    told = leaving_time(CLOCK, path, (0, still), 0.17, bends=bends).time
    late = told - np.sqrt(IN_PLACE / 3.0)
    assert abs(late) < 0.01 if bends else late > 0.015


def test_many_points_tell_what_one_hides_in_its_jitter():
    rng = np.random.default_rng(1)
    way = np.clip(CLOCK, 0.0, None) ** 2
    still = int(np.searchsorted(CLOCK, -0.02))
    alone, together = [], []
    for _ in range(40):
        points = way[:, None, None] * rng.normal(0.0, 1.0, (12, 2)) + rng.normal(
            0.0, 0.01, (CLOCK.size, 12, 2)
        )
        together.append(joint_leaving_time(CLOCK, points.reshape(len(points), -1), (0, still), 0.3))
        alone.append(joint_leaving_time(CLOCK, points[:, 0], (0, still), 0.3))
    assert np.nanstd(together) < 0.7 * np.nanstd(alone)
