"""Numbers read all at once, against what is said of each by itself."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from service.intake.keypoints import _table

NUMBER = st.one_of(st.floats(-1e4, 1e4), st.sampled_from([0, 1, 0.0, 1.0, 640]))
ODD = st.sampled_from([True, False, None, "1", math.nan, math.inf, 10**400, [1.0], {}])


@given(
    st.lists(st.lists(NUMBER, min_size=3, max_size=3), min_size=1, max_size=6),
    st.none() | st.tuples(st.integers(0, 5), st.integers(0, 2), ODD),
)
def test_points_are_read_where_each_number_is_one_and_nowhere_else(points, odd):
    if odd is not None:
        number, axis, value = odd
        points[number % len(points)][axis] = value
    numbers = [value for point in points for value in point]
    read = _table(points)
    if all(_is_read(value) for value in numbers):
        told = [math.nan if value is None else float(value) for value in numbers]
        np.testing.assert_array_equal(read, np.array(told).reshape(-1, 3))
    else:
        assert read is None


def _is_read(value: object) -> bool:
    """What is infinite is read as well, and refused as out of range after that."""
    if type(value) is float:
        return not math.isnan(value)
    return value is None or (type(value) is int and abs(value) < 2**1023)
