from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.analysis import View
from service.analysis.events.normalized import GRID, columns_of
from service.analysis.faults import MEASURES
from service.analysis.measured import DRAWN
from service.analysis.measures.definition import (
    MeasuredValue,
    _less_noise,
    _placewise,
    high,
    take_all,
)
from service.analysis.pose.points import N_POINTS
from tests.analysis.measures.posing import ALL_FOUND, everywhere


def test_what_noise_adds_to_the_largest_of_many_values_is_taken_off_by_three_quarters():
    assert _less_noise(10.0, np.array([1.0, 3.0]), spread=5.0) == pytest.approx(8.5)


def test_no_correction_goes_beyond_the_uncertainty():
    assert _less_noise(10.0, np.array([8.0, 8.0]), spread=2.0) == pytest.approx(8.5)


def test_a_bend_is_not_made_negative():
    assert _less_noise(0.5, np.array([4.0, 4.0]), spread=4.0) == 0.0


@given(
    st.floats(-50.0, 50.0),
    st.lists(st.floats(-20.0, 20.0), min_size=2, max_size=30),
    st.floats(0.0, 20.0),
)
def test_noise_that_adds_nothing_changes_nothing(value, draws, spread):
    apart = np.array([*draws, *(-d for d in draws)])
    expected = max(value, 0.0) if value >= 0.0 and value + apart.min() >= 0.0 else value
    assert _less_noise(value, apart, spread) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("view", View)
def test_a_signal_worked_out_at_some_places_is_the_whole_signal_there(view):
    swing = everywhere(view, np.random.default_rng(0).normal(size=(3, N_POINTS, len(GRID), 2)))
    signals = {m.signal for m in MEASURES if view in m.views} & _placewise
    places = (0, 3, *range(24, 33), len(GRID) - 1)
    assert signals
    for signal in signals:
        np.testing.assert_allclose(signal(swing.at(places)), signal(swing)[:, places])


@pytest.mark.parametrize("view", View)
def test_errors_are_drawn_wherever_a_measure_looks_and_for_all_that_it_needs(view):
    poses = np.random.default_rng(0).normal(size=(3, N_POINTS, len(GRID), 2))
    seen, own = everywhere(view, poses), tuple(m for m in MEASURES if view in m.views)
    columns = columns_of(DRAWN[view], tuple(range(N_POINTS)))
    samples = np.moveaxis(poses[:, columns.points, columns.places], 0, -1)
    fewer = replace(seen, samples=samples, columns=columns)
    (found,), (expected,) = (take_all(own, swing, (ALL_FOUND,)) for swing in (fewer, seen))
    assert len(samples) < len(seen.samples) / 2
    for name, measured in found.items():
        if isinstance(measured, MeasuredValue):
            whole = expected[name]
            assert (measured.value, measured.uncertainty) == (whole.value, whole.uncertainty)
        else:
            assert measured == expected[name]


def test_a_high_value_is_the_same_beside_one_that_is_missing():
    values = np.random.default_rng(5).normal(size=(4, 21))
    gappy = np.concatenate([values, np.full((4, 1), np.nan)], axis=1)
    np.testing.assert_array_equal(high(values), high(gappy))
    np.testing.assert_array_equal(high(values)[:, 0], np.sort(values, axis=1)[:, 18])
