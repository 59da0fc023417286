"""The models that are shipped."""

from __future__ import annotations

import json

import numpy as np
import pytest

from service.analysis.judging.classifier import Classifier
from service.analysis.judging.features import FEATURE_NAMES
from training.evaluation.card import card
from training.evaluation.evaluate import METRICS, MODELS, line
from training.models.fit import pairs


@pytest.fixture(scope="module")
def shipped() -> Classifier:
    return Classifier.load(MODELS)


@pytest.fixture(scope="module")
def metrics():
    return json.loads((MODELS / METRICS).read_text(encoding="utf-8"))


def test_every_fault_has_a_model_in_every_view_that_shows_it(shipped):
    assert set(shipped.experts) == {(d.name, v) for d, v in pairs()}


def test_all_models_together_are_small():
    assert sum(p.stat().st_size for p in MODELS.glob("*.onnx")) <= 5_000_000


def test_the_metrics_are_those_of_the_shipped_models(shipped, metrics):
    assert metrics["version"]["version"] == shipped.identity.version


def test_the_card_says_what_the_metrics_say(metrics):
    assert (MODELS / "model_card.md").read_text(encoding="utf-8") == card(metrics, MODELS)


def test_every_claim_is_told_as_met_missed_or_open(metrics):
    for claim in metrics["claims"]:
        assert line(claim).endswith(("met", "MISSED", "too few clips"))


def test_a_swing_of_which_nothing_is_known_gets_a_probability(shipped):
    nothing = np.full(len(FEATURE_NAMES), np.nan, dtype=np.float32)
    for fault, view in shipped.experts:
        assert 0.0 <= shipped.probabilities(fault, view, nothing)[0] <= 1.0


def test_disagreement_always_costs_confidence(shipped):
    for expert in shipped.experts.values():
        agreed, apart = (expert.calibration.chance(rule, 0.97) for rule in (0.97, 0.03))
        assert max(apart, 1.0 - apart) < max(agreed, 1.0 - agreed)
        assert expert.calibration.rule >= 0.0
        assert expert.calibration.model >= 0.0
