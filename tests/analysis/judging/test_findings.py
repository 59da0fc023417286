"""What a finding says beside its verdict, of a swing whose drift is as it is put."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from service.analysis.events.normalized import GRID
from service.analysis.faults import CATALOGUE
from service.analysis.judging.calibration import UNCALIBRATED, LogisticCalibration
from service.analysis.judging.estimates import Estimate, with_estimates
from service.analysis.judging.shown import FilmingConditions, not_shown
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.measures.definition import MeasuredValue
from service.analysis.types import Finding, FloatArray, Intent, Status, View
from tests.analysis.judging.one import finding_of
from tests.swings import clip

DRIFT = CATALOGUE["upper_body_drift"]
(LIMITS,) = DRIFT.criteria[View.FACE_ON]
PLACES = GRID[LIMITS.measure.window]
STEEP = LogisticCalibration(3.0)


@cache
def swing() -> MeasuredSwing:
    _, recording = clip(View.FACE_ON)
    measured = measure_swing(recording)
    assert isinstance(measured, MeasuredSwing)
    return measured


def with_drift(value: float, excesses: FloatArray | None = None) -> MeasuredSwing:
    """The swing with so much drift, and by how much it is beyond the threshold along its window."""
    signal = np.full(len(GRID), np.nan)
    signal[LIMITS.measure.window] = LIMITS.threshold + (0.0 if excesses is None else excesses)
    found = MeasuredValue(value, 0.01, signal)
    return replace(swing(), values={**swing().values, LIMITS.measure.name: found})


def drifting(value: float, calibration: LogisticCalibration = UNCALIBRATED) -> Finding:
    return finding_of(DRIFT, with_drift(value), calibration)


@pytest.mark.parametrize("side", [-1.0, 1.0], ids=["short of it", "beyond it"])
def test_a_score_too_near_even_stays_uncertain_however_sure_calibration_makes_of_it(side):
    near = drifting(LIMITS.threshold + side * 0.4 * LIMITS.grey, STEEP)
    assert near.confidence > 0.8
    assert near.status is Status.UNCERTAIN
    clear = drifting(LIMITS.threshold + side * 0.6 * LIMITS.grey, STEEP)
    assert clear.status is (Status.PRESENT if side > 0.0 else Status.ABSENT)


def test_a_measure_is_judged_from_its_fewest_frames_on():
    beyond = with_drift(LIMITS.marked, np.ones(len(PLACES)))
    frames = beyond.frames_within(LIMITS.measure.start, LIMITS.measure.end)
    enough = finding_of(replace(DRIFT, min_frames=frames - 0.01), beyond)
    assert enough.status is Status.PRESENT
    lacking = finding_of(replace(DRIFT, min_frames=frames + 0.01), beyond)
    assert lacking.reason is not None
    assert lacking.reason.code == "frame_rate"


def test_a_fault_is_shown_where_it_lies_farthest_beyond_from_first_to_last():
    excesses = np.full(len(PLACES), -1.0)
    excesses[2:6] = [0.5, 1.0, 3.0, 0.2]
    beyond = with_drift(LIMITS.marked, LIMITS.excess(LIMITS.threshold + 1.0) * excesses)
    told = finding_of(DRIFT, beyond)
    assert told.span == (beyond.moment(PLACES[2]), beyond.moment(PLACES[5]))
    assert told.shows_most == beyond.moment(PLACES[4])
    assert told.span[0].time < told.shows_most.time < told.span[1].time


def test_what_is_not_present_has_no_size_and_no_moment():
    told = drifting(LIMITS.threshold - 2.0 * LIMITS.grey)
    assert told.status is Status.ABSENT
    assert (told.severity, told.grade, told.shows_most, told.span) == (None, None, None, None)


def test_an_estimate_moves_the_signal_with_the_value_and_keeps_what_was_measured():
    plain = with_drift(LIMITS.threshold, np.zeros(len(PLACES)))
    moved = with_estimates(plain, {LIMITS.measure.name: Estimate(1.5, 0.2)})
    before, after = (s.values[LIMITS.measure.name] for s in (plain, moved))
    assert (after.value, after.uncertainty) == (before.value + 1.5, 0.2)
    assert after.as_measured == before.value
    np.testing.assert_array_equal(after.signal, before.signal + 1.5)


def test_an_unsure_view_hides_what_only_one_view_shows():
    both, one = CATALOGUE["handle_rise"], DRIFT
    assert (len(both.views), len(one.views)) == (2, 1)
    unsure = FilmingConditions(View.FACE_ON, False, Intent.FULL_SPEED, ())
    told_of_both, told_of_one = not_shown((both, one), unsure)
    assert told_of_both is None
    assert told_of_one is not None
    assert told_of_one.code == "view_unsure"
