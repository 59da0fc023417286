"""The models that are shipped."""

from __future__ import annotations

import json

import numpy as np
import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.judging.classifier import Classifier
from service.analysis.judging.features import FEATURE_NAMES
from service.analysis.types import View
from training.evaluation.card import METRICS, MODELS, card


@pytest.fixture(scope="module")
def shipped() -> Classifier:
    return Classifier.load(MODELS)


@pytest.fixture(scope="module")
def metrics():
    return json.loads((MODELS / METRICS).read_text(encoding="utf-8"))


def test_every_estimator_that_is_served_is_there_and_no_other(shipped, metrics):
    served = {(t["measure"], View(t["view"])) for t in metrics["trials"] if t["served"]}
    assert served
    assert set(shipped.estimators) == served
    assert not shipped.switched_off


def test_every_trial_is_told_as_it_went(metrics):
    for trial in metrics["trials"]:
        better = all(trial["crps"][s] < trial["crps_measured"][s] for s in trial["crps"])
        assert better or not trial["served"], trial["measure"]


def test_every_fault_is_calibrated_in_every_view_that_shows_it(shipped):
    assert set(shipped.calibrations) == {(d.name, v) for d in CATALOGUE.values() for v in d.views}


def test_all_models_together_are_small():
    assert sum(p.stat().st_size for p in MODELS.glob("*.onnx")) <= 5_000_000


def test_the_metrics_are_those_of_the_shipped_models(shipped, metrics):
    assert metrics["version"]["version"] == shipped.identity.version


def test_the_card_says_what_the_metrics_say(metrics):
    assert (MODELS / "model_card.md").read_text(encoding="utf-8") == card(metrics, MODELS)


def test_a_swing_of_which_nothing_is_known_gets_an_estimate(shipped):
    nothing = np.full((1, len(FEATURE_NAMES)), np.nan, dtype=np.float32)
    for estimator in shipped.estimators.values():
        correction, spread = estimator.estimates(nothing, np.array([estimator.center]))
        assert np.isfinite(correction).all()
        assert (spread > 0.0).all()
