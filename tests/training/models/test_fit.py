from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from service.analysis.analyse import analyse
from service.analysis.faults import MEASURES
from service.analysis.judging.calibration import LogisticCalibration
from service.analysis.judging.classifier import Classifier
from service.analysis.judging.estimates import Estimate, with_estimates
from service.analysis.judging.features import FEATURE_NAMES, feature_vector
from service.analysis.judging.manifest import MANIFEST, ModelError
from service.analysis.judging.rules import judge_all
from service.analysis.measured import measure_swing
from service.analysis.onnx_session import open_session
from service.analysis.types import Status, View
from tests.swings import clip, finding
from tests.training.small import ESTIMATED, classifier, data, learned, trials
from training.models.calibration import calibrate
from training.models.export import export
from training.models.fit import fit
from training.models.to_onnx import to_onnx
from training.models.trial import crps, try_left_out
from training.simulator import FaultAmounts

MEASURE = {m.name: m for m in MEASURES}


def rows_of(name: str, view: View):
    return data().rows_of(MEASURE[name], view)[0]


def test_what_came_nearer_to_the_truth_on_every_source_left_out_is_served():
    assert {(t.measure, View(t.view)) for t in trials()} == set(ESTIMATED)
    for trial in trials():
        assert set(trial.crps) == {"joint angles", "shifted"}
        assert trial.weight <= 0.5
        assert trial.nearer is all(trial.crps[s] < trial.crps_measured[s] for s in trial.crps)
        assert trial.nearer or not trial.served
    served = {(t.measure, View(t.view)) for t in trials() if t.served}
    assert served
    assert served == {(e.measure, e.view) for e in learned().estimators}


@pytest.mark.parametrize(("name", "view"), ESTIMATED)
def test_what_is_told_is_just_wide_enough_for_each_source_and_for_a_real_estimators_errors(
    name: str, view: View
):
    rows = rows_of(name, view)
    trial, value, spread = try_left_out(MEASURE[name], view, rows, data().sources)
    inside = np.abs(rows.truth - value) <= 2.0 * spread
    parts = [rows.source == k for k in np.unique(rows.source)]
    parts += [rows.estimated] if rows.estimated.any() else []
    held = [float(inside[part].mean()) for part in parts]
    assert 0.5 <= trial.width <= 1.0
    if 0.5 < trial.width < 1.0:
        assert 0.955 <= min(held) <= 0.975
    else:
        assert trial.width == 0.5 or min(held) <= 0.975


def test_what_few_clips_speak_for_is_not_served():
    name, view = next((t.measure, View(t.view)) for t in trials() if t.nearer)
    trial, *_ = try_left_out(MEASURE[name], view, rows_of(name, view), data().sources)
    assert all(trial.crps[s] < trial.crps_measured[s] for s in trial.crps)
    assert not trial.nearer


def fitted():
    """An estimator whether or not it is served."""
    name, view = ESTIMATED[1]
    return fit(MEASURE[name], view, rows_of(name, view))


@pytest.fixture(scope="module")
def estimator():
    return fitted()


def test_onnx_says_what_its_estimator_says(estimator):
    rows = rows_of(estimator.measure, estimator.view)
    known = np.clip(rows.features[:, estimator.columns], estimator.low, estimator.high)
    (told,) = open_session(to_onnx(estimator)).run(None, {"features": known})
    value, spread = estimator.estimate(rows)
    off = value - rows.value - estimator.slope * (rows.value - estimator.center)
    np.testing.assert_allclose(told[:, 0], off, atol=1e-4)
    np.testing.assert_allclose(np.exp(told[:, 1]), spread, rtol=1e-4)


def test_an_estimate_rises_with_what_was_measured(estimator):
    rows = rows_of(estimator.measure, estimator.view)
    low, _ = estimator.estimate(rows)
    high, _ = estimator.estimate(replace(rows, value=rows.value + 1.0))
    assert (high > low).all()


def test_two_spreads_hold_about_95_percent_of_the_truths(estimator):
    rows = rows_of(estimator.measure, estimator.view)
    value, spread = estimator.estimate(rows)
    assert 0.90 <= (np.abs(rows.truth - value) <= 2.0 * spread).mean() <= 1.0


def test_the_score_of_an_estimate_is_that_of_the_integral_over_its_distribution():
    value, spread, truth = 1.3, 0.7, 2.1

    def off(x: float) -> float:
        return float((norm.cdf(x, value, spread) - (x >= truth)) ** 2)

    wanted = quad(off, -10.0, truth)[0] + quad(off, truth, 15.0)[0]
    got = crps(np.array([value]), np.array([spread]), np.array([truth]))[0]
    assert got == pytest.approx(wanted, rel=1e-6)


def test_calibration_finds_the_slope_that_the_outcomes_follow():
    rng = np.random.default_rng(3)
    scores = rng.uniform(0.02, 0.98, 20_000)
    chance = LogisticCalibration(1.8, 0.9999, 0.9999).chances(scores)
    found = calibrate(scores, rng.random(scores.size) < chance)
    assert found.slope == pytest.approx(1.8, abs=0.1)


def test_few_clips_support_little_confidence():
    scores, present = np.array([0.999] * 10 + [0.001] * 98), np.repeat([True, False], [10, 98])
    told = calibrate(scores, present)
    assert told.surest_present == pytest.approx(1.0 - 1.0 / 12.0, abs=1e-4)
    assert told.surest_absent == pytest.approx(0.99, abs=1e-4)
    none = calibrate(np.empty(0), np.empty(0, dtype=bool))
    assert (none.surest_absent, none.surest_present) == (0.80, 0.80)


def test_mistakes_on_one_side_take_no_confidence_from_the_other():
    scores = np.repeat([0.999, 0.001], [50, 500])
    present = scores > 0.5
    present[:10] = False
    told = calibrate(scores, present)
    assert told.surest_present < 0.85
    assert told.surest_absent > 0.98


@given(st.floats(0.0, 1.0), st.floats(0.3, 3.0), st.floats(0.8, 0.99))
def test_calibration_never_turns_a_score_round(score, slope, surest):
    chance = LogisticCalibration(slope, surest, surest).chance(score)
    assert 1.0 - surest - 1e-12 <= chance <= surest + 1e-12
    assert (chance - 0.5) * (score - 0.5) >= 0.0


def test_the_model_version_stands_for_the_contents():
    assert len(classifier().identity.version) == 12
    assert (classifier().identity.trained, classifier().identity.data) == ("2026-01-02", "small")


def test_a_verdict_goes_by_the_estimate_that_is_printed_beside_it():
    _, recording = clip(View.FACE_ON, amounts=FaultAmounts(upper_body_drift=1.5))
    swing = measure_swing(recording)
    measured = swing.values["upper_body_drift"].value
    for correction, status in ((0.0, Status.PRESENT), (-2.0 * measured, Status.ABSENT)):
        changed = with_estimates(swing, {"upper_body_drift": Estimate(correction, 0.1)})
        told = {f.fault: f for f in judge_all((changed,))[0]}["upper_body_drift"]
        assert told.status is status
        assert told.evidence[0].value == pytest.approx(measured + correction)
        assert told.evidence[0].as_measured == pytest.approx(measured)
        record = next(m for m in changed.measures if m.name == "upper_body_drift")
        assert (record.value, record.as_measured) == (told.evidence[0].value, measured)


def test_far_from_the_values_that_an_estimator_was_learnt_from_what_was_measured_stands(two_models):
    models = Classifier.load(two_models)
    (name, view) = ESTIMATED[1]
    _, recording = clip(view, amounts=FaultAmounts(upper_body_drift=1.5))
    swing = measure_swing(recording)
    plain = swing.values[name]
    low, high = models.estimators[name, view].reach
    known = rows_of(name, view).value
    assert (low, high) == pytest.approx(np.percentile(known, [1.0, 99.0]), abs=1e-5)
    inside, outside = (
        replace(plain, value=value) for value in (0.5 * (low + high), high + 0.3 * (high - low))
    )
    told = [
        models.estimate(replace(swing, values={**swing.values, name: each})).values[name]
        for each in (inside, outside)
    ]
    assert told[0].value != inside.value
    assert (told[1].value, told[1].uncertainty) == pytest.approx((outside.value, plain.uncertainty))


def test_a_swing_unlike_the_training_clips_is_judged_as_measured_with_wider_error():
    _, recording = clip(View.FACE_ON, amounts=FaultAmounts(upper_body_drift=1.5))
    narrow = {v: replace(r, most=-1.0) for v, r in classifier().ranges.items()}
    told = analyse(recording, replace(classifier(), ranges=narrow))
    alone = analyse(recording)
    assert told.familiarity is not None
    assert not told.familiarity.inside
    assert "unlike_training" in {r.code for r in told.quality.remarks}
    assert any(plain.uncertainty for plain in alone.measures)
    for wide, plain in zip(told.measures, alone.measures, strict=True):
        assert (wide.value, wide.as_measured) == (plain.value, None)
        if plain.uncertainty is not None:
            assert wide.uncertainty == pytest.approx(1.5 * plain.uncertainty)
    assert finding(told, "upper_body_drift").status is Status.PRESENT


def test_the_features_of_a_swing_have_their_names():
    _, recording = clip(View.FACE_ON)
    vector = feature_vector(measure_swing(recording))
    assert vector.shape == (len(FEATURE_NAMES),)
    assert len(set(FEATURE_NAMES)) == len(FEATURE_NAMES)


def test_a_folder_without_models_is_refused(tmp_path: Path):
    with pytest.raises(ModelError):
        Classifier.load(tmp_path)


@pytest.fixture(scope="module")
def two_models(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of two estimators, whether or not they would be served."""

    both = tuple(fit(MEASURE[name], view, rows_of(name, view)) for name, view in ESTIMATED)
    path = tmp_path_factory.mktemp("models")
    export(replace(learned(), estimators=both), path, "small", date(2026, 1, 2))
    return path


def _changed(
    models: Path, tmp_path: Path, change: Callable[[dict[str, Any]], None], entries: slice
) -> Path:
    """A copy of the folder with some of the manifest's estimators changed."""
    copied = Path(shutil.copytree(models, tmp_path / "models"))
    manifest = json.loads((copied / MANIFEST).read_text())
    for entry in manifest["estimators"][entries]:
        change(entry)
    (copied / MANIFEST).write_text(json.dumps(manifest))
    return copied


def _reads_a_feature_that_is_gone(entry: dict[str, Any]) -> None:
    entry["columns"][0] = "measure.of_a_fault_that_is_gone.value"


def _reads_another_order(entry: dict[str, Any]) -> None:
    entry["columns"] = entry["columns"][::-1]


def _is_another_file(entry: dict[str, Any]) -> None:
    entry["sha256"] = "0" * 64


def _has_no_file(entry: dict[str, Any]) -> None:
    entry["file"] = "nowhere.onnx"


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (_reads_a_feature_that_is_gone, "of_a_fault_that_is_gone"),
        (_reads_another_order, "features"),
        (_has_no_file, "nowhere.onnx"),
        (_is_another_file, "not the file that training wrote"),
    ],
)
def test_a_model_that_cannot_be_used_is_switched_off_and_the_others_serve(
    two_models, tmp_path: Path, change, reason
):
    told = Classifier.load(_changed(two_models, tmp_path, change, slice(1)))
    (first, second) = ESTIMATED
    assert set(told.estimators) == {second}
    assert set(told.switched_off) == {first}
    assert reason in told.switched_off[first]


def test_a_folder_of_models_made_for_other_features_is_refused(two_models, tmp_path: Path):
    with pytest.raises(ModelError, match="other features"):
        Classifier.load(_changed(two_models, tmp_path, _reads_a_feature_that_is_gone, slice(None)))


def test_a_new_fault_leaves_the_models_of_the_others_on(
    two_models, monkeypatch: pytest.MonkeyPatch
):
    before = Classifier.load(two_models).estimators
    grown = (*FEATURE_NAMES[:50], "measure.of_a_new_fault.value", *FEATURE_NAMES[50:])
    place = {name: k for k, name in enumerate(grown)}
    monkeypatch.setattr("service.analysis.judging.classifier._PLACE_OF_FEATURE", place)
    after = Classifier.load(two_models)
    assert (set(after.estimators), dict(after.switched_off)) == (set(before), {})
    for which, estimator in after.estimators.items():
        names = [grown[k] for k in estimator.columns]
        assert names == [FEATURE_NAMES[k] for k in before[which].columns]
