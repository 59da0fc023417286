"""Numbers of answers rounded as Python rounds them, one by one and all of an array."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.api.schemas.values import all_rounded, rounding

TIES = st.builds(
    lambda k, of: k / of, st.integers(-50_000, 50_000), st.sampled_from([8e3, 2e4, 2e5])
)
NUMBERS = st.lists(st.floats() | st.floats(-100, 100) | TIES, max_size=20)


@pytest.mark.parametrize("digits", [2, 3, 4])
@given(numbers=NUMBERS)
def test_numbers_are_rounded_as_python_rounds_them(digits: int, numbers: list[float]) -> None:
    expected = [round(number, digits) for number in numbers]
    for told in (
        [rounding(digits)(number) for number in numbers],
        all_rounded(np.array(numbers, dtype=np.float64), digits),
    ):
        np.testing.assert_array_equal(told, expected)
        assert [math.copysign(1, n) for n in told] == [math.copysign(1, n) for n in expected]
