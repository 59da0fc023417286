from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.analysis import View
from service.analysis.events.normalized import GRID, columns_of
from service.analysis.faults import MEASURES
from service.analysis.measured import drawn
from service.analysis.measures.definition import (
    MeasuredValue,
    _placewise,
    high,
)
from service.analysis.measures.taking import _less_noise, take_all
from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import Reason, Source
from tests.analysis.measures.posing import ALL_FOUND, end_to_end, everywhere


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
    points = tuple(range(N_POINTS))
    columns = columns_of(drawn(view, points), points)
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


@pytest.mark.parametrize("view", View)
def test_swings_laid_end_to_end_are_measured_as_each_alone(view):
    rng = np.random.default_rng(1)
    poses = rng.normal(size=(3, 5, N_POINTS, len(GRID), 2))
    poses[1, :, :, 44:48] = np.nan  # some of many windows is lost, of others all
    poses[2, 3, Point.LEAD_WRIST] = np.nan  # a sample without a wrist
    swings = [everywhere(view, each, GRID + k) for k, each in enumerate(poses)]
    lost = replace(ALL_FOUND[4], source=Source.NOT_FOUND)
    found = [ALL_FOUND, ALL_FOUND, (*ALL_FOUND[:4], lost, *ALL_FOUND[5:])]
    together = take_all(MEASURES, end_to_end(swings), found)
    for taken, swing, positions in zip(together, swings, found, strict=True):
        (alone,) = take_all(MEASURES, swing, (positions,))
        assert {type(measured) for measured in alone.values()} == {MeasuredValue, Reason}
        for name, measured in alone.items():
            if isinstance(measured, MeasuredValue):
                own = taken[name]
                assert (own.value, own.uncertainty) == (measured.value, measured.uncertainty)
                window = next(m.window for m in MEASURES if m.name == name)
                np.testing.assert_array_equal(own.signal[window], measured.signal[window])
            else:
                assert taken[name] == measured


def test_one_of_swings_laid_end_to_end_is_the_swing_itself():
    poses = np.random.default_rng(2).normal(size=(3, 5, N_POINTS, len(GRID), 2))
    swings = [everywhere(View.FACE_ON, each, GRID + k) for k, each in enumerate(poses)]
    together = end_to_end(swings)
    assert len(together) == 3
    for k, swing in enumerate(swings):
        one = together.one(k)
        np.testing.assert_array_equal(one.point(Point.NOSE), swing.point(Point.NOSE))
        np.testing.assert_array_equal(one.time_at(7.0), swing.time_at(7.0))
        np.testing.assert_array_equal(one.poses, swing.poses)
        np.testing.assert_array_equal(one.drawn, [False, *[True] * 4])


def test_a_high_value_is_the_same_beside_one_that_is_missing():
    values = np.random.default_rng(5).normal(size=(4, 21))
    gappy = np.concatenate([values, np.full((4, 1), np.nan)], axis=1)
    np.testing.assert_array_equal(high(values), high(gappy))
    np.testing.assert_array_equal(high(values)[:, 0], np.sort(values, axis=1)[:, 18])
