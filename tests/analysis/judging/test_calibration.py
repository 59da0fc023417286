from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.analysis.analyse import analyse
from service.analysis.faults import CATALOGUE
from service.analysis.judging.calibration import LogisticCalibration
from service.analysis.judging.rules import USEFUL_CONFIDENCE
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.types import Status, View
from tests.analysis.judging.one import finding_of
from tests.swings import clip
from training.simulator import FaultAmounts

CHANCE = st.floats(0.0, 1.0)
DRIFT = CATALOGUE["upper_body_drift"]


@given(CHANCE, st.floats(0.3, 3.0))
def test_a_chance_is_never_a_certainty(score, slope):
    assert 0.0099 < LogisticCalibration(slope).chance(score) < 0.9901


@given(st.floats(0.02, 0.98), st.floats(1.0, 3.0))
def test_a_steeper_slope_makes_surer_of_the_same_side(score, slope):
    plain, steep = (LogisticCalibration(s, 0.9999, 0.9999).chance(score) for s in (1.0, slope))
    assert abs(steep - 0.5) >= abs(plain - 0.5) - 1e-12
    assert (steep - 0.5) * (plain - 0.5) >= 0.0


@given(st.lists(CHANCE, min_size=1), st.floats(0.3, 3.0))
def test_many_scores_are_calibrated_as_each_is(scores, slope):
    calibration = LogisticCalibration(slope, surest_absent=0.9, surest_present=0.97)
    each = [calibration.chance(score) for score in scores]
    np.testing.assert_allclose(calibration.chances(np.array(scores)), each, rtol=1e-12)


@cache
def _drifting(fault_amount: float) -> MeasuredSwing:
    _, recording = clip(View.FACE_ON, amounts=FaultAmounts(upper_body_drift=fault_amount))
    swing = measure_swing(recording)
    assert isinstance(swing, MeasuredSwing)
    return swing


@pytest.mark.parametrize("amount", [0.0, 0.6, 1.2])
@given(slope=st.floats(0.3, 3.0))
def test_calibration_keeps_the_side_and_the_evidence(amount, slope):
    swing = _drifting(amount)
    alone, told = finding_of(DRIFT, swing), finding_of(DRIFT, swing, LogisticCalibration(slope))
    assert (told.score, told.evidence) == (alone.score, alone.evidence)
    assert (told.chance > 0.5) == (alone.score > 0.5)
    assert {told.status, alone.status} != {Status.PRESENT, Status.ABSENT}


def test_below_a_useful_confidence_nothing_is_claimed():
    for seed_amount in (0.3, 0.45, 0.55, 0.6, 0.7):
        told = finding_of(DRIFT, _drifting(seed_amount))
        assert (told.status is Status.UNCERTAIN) == (told.confidence < USEFUL_CONFIDENCE)


def test_without_a_model_the_answer_says_so():
    _, recording = clip(View.FACE_ON)
    told = analyse(recording)
    assert told.model is None
    assert told.familiarity is None
    assert all(m.as_measured is None for m in told.measures)
