import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from service.analysis.events.positions.searches.level_crossings import last_upcrossing

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


def test_beside_a_missing_sample_nothing_is_told():
    assert np.isnan(last_upcrossing(CLOCK[:3], np.array([0.0, np.nan, 2.0]), np.array([1.0]))).all()


def told_one_by_one(clock, values, level):
    """The same by looking at one frame after the other, from the end."""
    for k in range(len(values) - 2, -1, -1):
        here, there = values[k], values[k + 1]
        if there < level:
            return np.nan
        if here < level:
            share = (level - here) / (there - here)
            return clock[k] + share if np.isfinite(there - here) else np.nan
    return np.nan


@given(
    values=st.lists(st.sampled_from([-1.0, 0.0, 0.5, 1.0, 2.0, np.nan, np.inf]), min_size=1),
    levels=st.lists(st.sampled_from([-2.0, 0.0, 0.7, 1.0, np.nan]), min_size=1),
)
def test_each_level_is_told_as_by_looking_at_one_frame_after_the_other(values, levels):
    clock = np.arange(float(len(values)))
    told = last_upcrossing(clock, np.array(values), np.array(levels))
    expected = [told_one_by_one(clock, values, level) for level in levels]
    np.testing.assert_allclose(told, expected)
