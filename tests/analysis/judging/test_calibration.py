from __future__ import annotations

from functools import cache

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.analysis.analyse import analyse
from service.analysis.faults import CATALOGUE
from service.analysis.judging.calibration import LogisticCalibration, ModelPrediction
from service.analysis.judging.rules import USEFUL_CONFIDENCE, judge
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.types import Influence, Status, View
from tests.swings import clip
from training.simulator import FaultAmounts

EVEN = LogisticCalibration(1.0, 1.0, 0.0)
CHANCE = st.floats(0.0, 1.0)


@given(CHANCE, CHANCE, st.floats(0.0, 2.0), st.floats(0.0, 2.0))
def test_on_disagreement_the_confidence_is_below_that_of_the_surer(rule, model, a, b):
    assume((rule > 0.5) != (model > 0.5))
    together = LogisticCalibration(a, b, 0.0).chance(rule, model)
    alone = [
        LogisticCalibration(a, 0.0, 0.0).chance(rule, model),
        LogisticCalibration(0.0, b, 0.0).chance(rule, model),
    ]
    sure = [max(c, 1.0 - c) for c in alone]
    assert max(together, 1.0 - together) <= max(sure) + 1e-12


@given(st.floats(0.51, 1.0), st.floats(0.0, 0.49))
def test_disagreement_costs_confidence_even_where_the_rule_has_no_weight(model, rule):
    calibration = LogisticCalibration(0.0, 1.0, 0.0)
    assert 0.5 < calibration.chance(rule, model) < calibration.chance(1.0 - rule, model)


@given(CHANCE, CHANCE)
def test_a_chance_is_a_probability(rule, model):
    assert 0.0 < EVEN.chance(rule, model) < 1.0


@cache
def _drifting(fault_amount: float) -> MeasuredSwing:
    _, recording = clip(View.FACE_ON, amounts=FaultAmounts(upper_body_drift=fault_amount))
    swing = measure_swing(recording)
    assert isinstance(swing, MeasuredSwing)
    return swing


DRIFT = CATALOGUE["upper_body_drift"]


@pytest.mark.parametrize("amount", [0.0, 0.6, 1.2])
@given(probability=CHANCE)
def test_the_model_decides_nothing(amount, probability):
    swing = _drifting(amount)
    alone, told = judge(DRIFT, swing), judge(DRIFT, swing, ModelPrediction(probability))
    assert (told.status, told.confidence) == (alone.status, alone.confidence)
    assert (told.severity, told.evidence) == (alone.severity, alone.evidence)
    assert told.model_score == probability
    assert told.agreement is ((alone.score > 0.5) == (probability > 0.5))


def test_what_moved_the_model_is_told_of_an_absent_fault_only_on_disagreement():
    moved = (Influence("trail_hip", 1.5),)
    at_odds = judge(DRIFT, _drifting(0.0), ModelPrediction(0.98, lambda: moved))
    agreed = judge(DRIFT, _drifting(0.0), ModelPrediction(0.02, lambda: moved))
    assert (at_odds.status, at_odds.agreement, at_odds.moved_by) == (Status.ABSENT, False, moved)
    assert (agreed.status, agreed.moved_by) == (Status.ABSENT, ())


def test_below_a_useful_confidence_nothing_is_claimed():
    for seed_amount in (0.3, 0.45, 0.55, 0.6, 0.7):
        told = judge(DRIFT, _drifting(seed_amount))
        assert (told.status is Status.UNCERTAIN) == (told.confidence < USEFUL_CONFIDENCE)


def test_without_a_model_the_answer_says_so():
    _, recording = clip(View.FACE_ON)
    told = analyse(recording)
    assert told.model is None
    assert all(f.model_score is None and f.agreement is None for f in told.findings)
