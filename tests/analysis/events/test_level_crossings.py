from operator import ge, lt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.analysis.events.level_crossings import (
    last_time_above,
    last_upcrossing,
)

CLOCK = np.arange(6.0)


def test_a_level_is_left_on_the_straight_line_between_two_frames():
    rising = np.array([0.0, 3.0, 0.0, 1.0, 3.0, 4.0])
    np.testing.assert_allclose(last_upcrossing(CLOCK, rising, np.array([2.0, 3.5])), [3.5, 4.5])


def test_a_level_never_left_or_never_reached_has_no_time():
    told = last_upcrossing(CLOCK, np.linspace(1.0, 2.0, 6), np.array([0.5, 2.5]))
    assert np.isnan(told).all()


def test_the_clock_may_run_backward():
    rising = np.array([0.0, 0.0, 1.0, 2.0, 3.0, 4.0])
    np.testing.assert_allclose(last_upcrossing(-CLOCK, rising, np.array([1.5])), [-2.5])


def test_the_last_time_above_a_level():
    falling = np.array([4.0, 1.0, 3.0, 1.0, 0.0, 0.0])
    told = last_time_above(CLOCK, falling, np.array([2.0, 5.0, 0.0]))
    np.testing.assert_allclose(told, [2.5, np.nan, np.nan])


def test_beside_a_missing_sample_nothing_is_told():
    assert np.isnan(last_upcrossing(CLOCK[:3], np.array([0.0, np.nan, 2.0]), np.array([1.0]))).all()


def told_one_by_one(clock, values, level, is_before):
    """The same by looking at one frame after the other, from the end."""
    for k in range(len(values) - 2, -1, -1):
        here, there = values[k], values[k + 1]
        if is_before(there, level):
            return np.nan
        if is_before(here, level):
            share = (level - here) / (there - here)
            return clock[k] + share if np.isfinite(there - here) else np.nan
    return np.nan


@pytest.mark.parametrize(("search", "is_before"), [(last_upcrossing, lt), (last_time_above, ge)])
@given(
    values=st.lists(st.sampled_from([-1.0, 0.0, 0.5, 1.0, 2.0, np.nan, np.inf]), min_size=1),
    levels=st.lists(st.sampled_from([-2.0, 0.0, 0.7, 1.0, np.nan]), min_size=1),
)
def test_each_level_is_told_as_by_looking_at_one_frame_after_the_other(
    search, is_before, values, levels
):
    clock = np.arange(float(len(values)))
    told = search(clock, np.array(values), np.array(levels))
    expected = [told_one_by_one(clock, values, level, is_before) for level in levels]
    np.testing.assert_allclose(told, expected)
