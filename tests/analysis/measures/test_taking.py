"""When a measure is taken, and how sure it is, on poses posed by hand."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.analysis.events.normalized import grid_index
from service.analysis.faults import MEASURES
from service.analysis.faults.handle_rise import HAND_HEIGHT
from service.analysis.faults.trail_heel_kick import HEEL_HEIGHT
from service.analysis.faults.trail_knee_drive import KNEE_TRAVEL
from service.analysis.measures import taking
from service.analysis.measures.definition import MeasuredValue, high
from service.analysis.measures.taking import take
from service.analysis.pose.points import Point
from service.analysis.types import Position, Reason, Source, View
from tests.analysis.measures.posing import ALL_FOUND, everywhere, posed


def test_a_view_that_cannot_show_a_measure_is_the_reason():
    reason = take(
        KNEE_TRAVEL, posed(View.FACE_ON, lead_ankle=(0.0, 0.0), trail_knee=(0.0, 0.3)), ALL_FOUND
    )
    assert isinstance(reason, Reason)
    assert reason.code == "view"


@pytest.mark.parametrize(("unseen", "told"), [(0.2, True), (0.4, False)])
def test_points_must_be_seen_in_most_of_the_window(unseen, told):
    start, end = HEEL_HEIGHT.start, HEEL_HEIGHT.end

    def heel(grid):
        hidden = (grid > end - unseen * (end - start)) & (grid <= end)
        return np.where(hidden[:, None], np.nan, (0.0, 0.05))

    taken = take(HEEL_HEIGHT, posed(trail_heel=heel), ALL_FOUND)
    assert isinstance(taken, MeasuredValue) is told


def test_points_never_seen_are_the_reason_and_are_named():
    reason = take(HEEL_HEIGHT, posed(trail_knee=(0.0, 0.3)), ALL_FOUND)
    assert isinstance(reason, Reason)
    assert reason.code == "points_not_seen"
    assert "trail heel" in reason.text


def test_a_position_that_was_not_found_is_the_reason():
    swing = posed(times=lambda grid: np.where(grid < 3.0, np.nan, grid), trail_heel=(0.0, 0.0))
    late = Reason("clip_starts_late", "The clip starts after this position.")
    positions = (
        Position(1, Source.NOT_FOUND, reason=late),
        Position(2, Source.NOT_FOUND, reason=late),
        *ALL_FOUND[2:],
    )
    reason = take(HEEL_HEIGHT, swing, positions)
    assert isinstance(reason, Reason)
    assert reason.code == "clip_starts_late"


def test_the_uncertainty_is_the_spread_over_the_samples():
    swing = posed(View.DOWN_THE_LINE, lead_ankle=(0.0, 0.0), trail_knee=(0.0, 0.3))
    columns = swing.columns
    late = (columns.points == Point.TRAIL_KNEE) & (columns.places >= grid_index(5.0))
    swing.samples[late, 0] += [0.0, 0.01, -0.01]
    taken = take(replace(KNEE_TRAVEL, doubt=1.0), swing, ALL_FOUND)
    assert isinstance(taken, MeasuredValue)
    assert taken.uncertainty == pytest.approx(1.0)


def test_noise_does_not_bend_an_arm_that_is_straight():
    swing = posed(lead_shoulder=(0.0, 0.8), lead_elbow=(0.0, 0.65), lead_wrist=(0.0, 0.5))
    apart = 0.15 * np.tan(np.radians(5.0))
    swing.samples[swing.columns.points == Point.LEAD_ELBOW, 0] += [apart, 3.0 * apart, 3.0 * apart]
    bend = next(m for m in MEASURES if m.name == "lead_elbow_flexion_p7")
    as_seen = 2.0 * 5.0
    drawn = 2.0 * np.degrees(np.arctan(3.0 * np.tan(np.radians(5.0))))
    taken = take(bend, swing, ALL_FOUND)
    assert isinstance(taken, MeasuredValue)
    assert taken.value == pytest.approx(max(as_seen - 0.75 * (drawn - as_seen), 0.0))


def test_a_doubted_measure_says_that_it_may_be_further_off_than_its_samples_lie_apart():
    swing = posed(View.DOWN_THE_LINE, trail_knee=(0.0, 0.3))
    late = swing.columns.places >= grid_index(5.0)
    swing.samples[late, 0] += [0.0, 0.01, -0.01]
    plain, doubted = (take(replace(KNEE_TRAVEL, doubt=d), swing, ALL_FOUND) for d in (1.0, 1.3))
    assert isinstance(plain, MeasuredValue)
    assert isinstance(doubted, MeasuredValue)
    assert doubted.value == plain.value
    assert doubted.uncertainty == pytest.approx(1.3 * plain.uncertainty)


@given(st.integers(0, 1000), st.floats(0.0, 0.9))
def test_a_value_few_exceed_is_the_lower_ninetieth_percentile(seed, lost):
    rng = np.random.default_rng(seed)
    values = rng.normal(size=(4, 73))
    values[:, 1:][rng.random((4, 72)) < lost] = np.nan
    expected = np.nanpercentile(values, 90.0, axis=1, keepdims=True, method="lower")
    np.testing.assert_array_equal(high(values), expected)


@given(st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=30))
def test_the_spread_is_the_standard_deviation(values):
    spread = taking._spread(np.array(values))
    assert spread == pytest.approx(np.std(values), abs=1e-9)


def test_a_doubt_that_differs_by_view_is_that_of_the_view_and_one_number_is_that_of_both():
    by_view = replace(HAND_HEIGHT, doubt={View.FACE_ON: 1.5, View.DOWN_THE_LINE: 1.25})
    assert [by_view.doubt_from(view) for view in (View.FACE_ON, View.DOWN_THE_LINE)] == [1.5, 1.25]
    assert {replace(HAND_HEIGHT, doubt=2.0).doubt_from(view) for view in View} == {2.0}
    noise = 0.01 * np.array([0.0, 1.0, -1.0])

    def spread(measure, view):
        swing = everywhere(
            view, np.concatenate([posed(lead_wrist=(0.0, 0.4), trail_wrist=(0.0, 0.4)).poses] * 3)
        )
        swing.samples[:, 1] += noise * (swing.columns.places != 0)[:, None]
        taken = take(measure, swing, ALL_FOUND)
        assert isinstance(taken, MeasuredValue)
        return taken.uncertainty

    assert spread(by_view, View.FACE_ON) == pytest.approx(1.2 * spread(by_view, View.DOWN_THE_LINE))
