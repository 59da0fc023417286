from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sklearn.metrics import log_loss

from service.analysis.analyse import analyse
from service.analysis.events.refinement import REFINED, Case, rules
from service.analysis.judging.calibration import LogisticCalibration
from service.analysis.judging.classifier import MANIFEST, Classifier, ModelError
from service.analysis.judging.features import FEATURE_NAMES
from service.analysis.judging.rules import USEFUL_CONFIDENCE
from service.analysis.types import Status, View
from tests.swings import clip, finding, random_clip
from training.data.dataset import FAULT_NAMES, VIEWS
from training.evaluation.evaluate import HELD_OUT, false_alarms
from training.evaluation.report import calibration_error, report
from training.models.candidates import CANDIDATES, auroc
from training.models.fit import assessable, columns_of, fit_calibrations, pairs
from training.models.fit_positions import learn
from training.models.to_onnx import to_onnx
from training.simulator import FaultAmounts

from .small import PAIRS, classifier, experts, folder, split


@pytest.mark.parametrize("candidate", [c for c in CANDIDATES if not c.raw], ids=lambda c: c.name)
def test_onnx_says_what_its_estimator_says(candidate):
    import onnxruntime

    definition, view = next(p for p in pairs() if p[0].name == "upper_body_drift")
    clips = assessable(split("train", 60), definition.name, view)
    columns = columns_of(definition, view)
    columns = columns[np.isfinite(clips.features[:, columns]).any(axis=0)]
    rows = clips.features[:, columns]
    estimator = candidate.fit(rows, clips.margin[:, FAULT_NAMES.index(definition.name)])
    session = onnxruntime.InferenceSession(to_onnx(estimator, len(columns)))
    told = np.asarray(session.run(None, {"features": rows})[-1])[:, -1]
    if candidate.trees or candidate.margin:
        np.testing.assert_allclose(told, candidate.score(estimator, rows), atol=1e-5)
    else:
        double = rows.astype(np.float64)
        np.testing.assert_allclose(told, estimator.predict_proba(double)[:, 1], atol=1e-5)


@pytest.mark.parametrize("place", range(2))
def test_the_service_says_what_was_trained(place):
    expert = experts()[place]
    clips = split("test").rows(split("test").view == VIEWS.index(expert.view))
    served = classifier().probabilities(expert.fault, expert.view, clips.features)
    np.testing.assert_allclose(served, expert.probabilities(clips.features), atol=1e-5)


def test_rules_for_positions_can_be_learnt_anew():
    learnt = learn(25, seed=3, quiet=True, fewest=20)
    assert {(r["position"], r["view"]) for r in learnt} == {(n, v) for n in REFINED for v in View}
    for rule in learnt:
        case = Case(rule["position"], View(rule["view"]), rule["club"], rule["few_frames"])
        served = rules()[case]
        assert len(rule["weights"]) == len(rule["usual"]) == served.weights.size
        assert np.isfinite(rule["weights"]).all()


def test_one_swing_gets_the_answer_that_it_gets_among_many():
    expert = experts()[0]
    rows = split("test").features[split("test").view == VIEWS.index(expert.view)]
    many = classifier().probabilities(expert.fault, expert.view, rows)
    one = classifier().probabilities(expert.fault, expert.view, rows[3])
    assert one[0] == pytest.approx(many[3], abs=1e-6)


def test_even_a_small_training_run_tells_a_fault_from_none():
    expert = experts()[1]
    measured = report(expert, {name: split(name) for name in HELD_OUT})
    assert measured.slices["all"].both > 0.9
    clips = assessable(split("test"), expert.fault, expert.view)
    margin = clips.margin[:, FAULT_NAMES.index(expert.fault)]
    rule = clips.rule[:, FAULT_NAMES.index(expert.fault)]
    alone = expert.rule_alone.chance(rule, expert.probabilities(clips.features))
    assert measured.log_loss_rule == pytest.approx(log_loss(margin > 0.0, alone))


def test_the_model_version_stands_for_the_contents():
    assert len(classifier().identity.version) == 12
    assert (classifier().identity.trained, classifier().identity.data) == ("2026-01-02", "small")


def test_an_answer_names_the_model_and_what_moved_it():
    _, recording = clip(View.FACE_ON, amounts=FaultAmounts(upper_body_drift=1.5))
    told = analyse(recording, classifier())
    drift = finding(told, "upper_body_drift")
    assert told.model == classifier().identity
    assert drift.status is Status.PRESENT
    assert drift.model_score is not None
    assert drift.moved_by
    assert finding(told, "handle_rise").model_score is None  # no model was made for it


def test_what_is_absent_is_not_explained():
    _, recording = random_clip(5, View.FACE_ON)
    drift = finding(analyse(recording, classifier()), "upper_body_drift")
    assert drift.status is Status.ABSENT
    assert drift.moved_by == ()


def test_a_folder_without_models_is_refused(tmp_path: Path):
    with pytest.raises(ModelError):
        Classifier.load(tmp_path)


def _changed(tmp_path: Path, change: Callable[[dict[str, Any]], None], entries: slice) -> Path:
    """A copy of the folder with some of the manifest's models changed."""
    copied = Path(shutil.copytree(folder(), tmp_path / "models"))
    manifest = json.loads((copied / MANIFEST).read_text())
    for entry in manifest["models"][entries]:
        change(entry)
    (copied / MANIFEST).write_text(json.dumps(manifest))
    return copied


def _reads_a_feature_that_is_gone(entry: dict[str, Any]) -> None:
    entry["columns"][0] = "measure.of_a_fault_that_is_gone.value"


def _reads_another_order(entry: dict[str, Any]) -> None:
    entry["columns"] = entry["columns"][::-1]


def _has_no_file(entry: dict[str, Any]) -> None:
    entry["file"] = "nowhere.onnx"


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (_reads_a_feature_that_is_gone, "of_a_fault_that_is_gone"),
        (_reads_another_order, "features"),
        (_has_no_file, "nowhere.onnx"),
    ],
)
def test_a_model_that_cannot_be_used_is_switched_off_and_the_others_serve(
    tmp_path: Path, change, reason
):
    told = Classifier.load(_changed(tmp_path, change, slice(1)))
    (first, second) = PAIRS
    assert set(told.experts) == {second}
    assert set(told.switched_off) == {first}
    assert reason in told.switched_off[first]


def test_a_folder_of_models_made_for_other_features_is_refused(tmp_path: Path):
    with pytest.raises(ModelError, match="other features"):
        Classifier.load(_changed(tmp_path, _reads_a_feature_that_is_gone, slice(None)))


def test_a_new_fault_leaves_the_models_of_the_others_on(monkeypatch: pytest.MonkeyPatch):
    grown = (*FEATURE_NAMES[:50], "measure.of_a_new_fault.value", *FEATURE_NAMES[50:])
    place = {name: k for k, name in enumerate(grown)}
    before = classifier().experts
    monkeypatch.setattr("service.analysis.judging.classifier._PLACE_OF_FEATURE", place)
    after = Classifier.load(folder())
    assert (set(after.experts), dict(after.switched_off)) == (set(before), {})
    for which, expert in after.experts.items():
        names = [grown[k] for k in expert.columns]
        assert names == [FEATURE_NAMES[k] for k in before[which].columns]


def _calibration_rows(model_is_right: bool, rule_is_right: bool):
    rng = np.random.default_rng(1)
    margin = rng.normal(0.0, 2.0, 800)
    chance = 1.0 / (1.0 + np.exp(-2.0 * margin))
    noise = rng.uniform(0.05, 0.95, 800)
    rule = chance if rule_is_right else noise
    model = chance if model_is_right else noise
    return rule, model, margin, np.arange(800)


def test_a_model_that_knows_nothing_is_left_out():
    calibrations, losses = fit_calibrations(
        *_calibration_rows(model_is_right=False, rule_is_right=True)
    )
    assert calibrations["both"].model < 0.1 * calibrations["both"].rule
    assert losses["rule"] < losses["model"]


def test_a_rule_that_knows_nothing_is_left_out():
    calibrations, losses = fit_calibrations(
        *_calibration_rows(model_is_right=True, rule_is_right=False)
    )
    assert calibrations["both"].rule < 0.1 * calibrations["both"].model
    assert losses["model"] < losses["rule"]


def test_what_is_used_alone_leaves_the_other_out():
    calibrations, _ = fit_calibrations(*_calibration_rows(model_is_right=True, rule_is_right=True))
    assert (calibrations["rule"].model, calibrations["model"].rule) == (0.0, 0.0)
    assert min(calibrations["rule"].rule, calibrations["model"].model) > 0.0


def test_the_calibration_is_the_same_for_one_and_for_many():
    calibration = LogisticCalibration(0.7, 1.2, -0.3)
    rule, model = np.array([0.0, 0.2, 0.9]), np.array([0.4, 1.0, 0.8])
    one_by_one = [calibration.chance(r, m) for r, m in zip(rule, model, strict=True)]
    np.testing.assert_allclose(calibration.chance(rule, model), one_by_one, atol=1e-12)


def test_calibration_error_of_a_closed_case():
    error, bins = calibration_error(np.array([0.1, 0.1, 0.9, 0.9]), np.array([0, 0, 1, 0]) > 0)
    assert error == pytest.approx(0.5 * 0.1 + 0.5 * 0.4)
    assert [n for _, _, n in bins] == [2, 2]


def test_area_under_the_curve_leaves_the_grey_zone_out():
    margin, score = np.array([-2.0, -1.5, 0.5, 1.5]), np.array([0.1, 0.2, 0.0, 0.9])
    assert auroc(margin, score) == 1.0


def test_false_alarms_are_counted_a_swing():
    alarms, by_rules, n = false_alarms(list(experts()), split("test"))
    clean = split("test").rows(split("test").clean)
    wrong = (clean.rule >= USEFUL_CONFIDENCE) & ~(clean.margin > 0.0) & np.isfinite(clean.rule)
    served = [FAULT_NAMES.index(e.fault) for e in experts()]
    seen = np.array([clean.view == VIEWS.index(e.view) for e in experts()]).T
    assert by_rules == pytest.approx((wrong[:, served] & seen).sum(axis=1).mean())
    assert alarms <= by_rules
    assert n == len(clean)
