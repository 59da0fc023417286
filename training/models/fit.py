"""Choose, fit, calibrate and export a model for every fault and view."""

from __future__ import annotations

import json
import warnings
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import expit
from sklearn.exceptions import ConvergenceWarning
from sklearn.metrics import log_loss
from sklearn.model_selection import GroupKFold
from tqdm import tqdm

from service.analysis.faults import CATALOGUE, FaultDefinition
from service.analysis.judging.calibration import LogisticCalibration, log_odds
from service.analysis.judging.classifier import MANIFEST
from service.analysis.judging.features import FEATURE_NAMES, fingerprint
from service.analysis.types import FloatArray, View
from training.data.dataset import FAULT_NAMES, VIEWS, Dataset
from training.models.candidates import (
    CANDIDATES,
    Candidate,
    Scores,
    judge,
    out_of_fold,
    platt,
)
from training.models.to_onnx import to_onnx

_ABOUT: Final[float] = 1.0
"""Joints are taken from this many positions before the fault's window to as many after."""
_LEAST_SEEN: Final[float] = 0.05
_RIDGE: Final[float] = 1e-3
_FOLDS: Final[int] = 5
_KNOWN: Final[tuple[float, float]] = (1.0, 99.0)
"""Percentiles of the training clips between which a feature is taken as it is."""


@dataclass(frozen=True)
class Expert:
    """The model of one fault in one view, as it is served.

    ``slope`` and ``intercept`` turn its score into log-odds; ``trials`` holds how all
    candidates did on golfers they were not fitted on, ``stacked`` the log loss of rule, model
    and both on the calibration split; ``rule_alone`` calibrates the rule without the model.
    """

    fault: str
    view: View
    kind: str
    estimator: Any
    columns: NDArray[np.intp]
    typical: NDArray[np.float32]
    low: NDArray[np.float32]
    high: NDArray[np.float32]
    slope: float
    intercept: float
    trials: dict[str, Scores]
    calibration: LogisticCalibration
    rule_alone: LogisticCalibration
    stacked: dict[str, float]

    @property
    def candidate(self) -> Candidate:
        """The kind of model it is."""
        return next(c for c in CANDIDATES if c.name == self.kind)

    @property
    def name(self) -> str:
        """Name of its file."""
        return f"{self.fault}.{self.view.value}.onnx"

    def probabilities(self, features: NDArray[np.float32]) -> FloatArray:
        """The model's own probabilities of swings of shape (n, n_features)."""
        known = np.clip(features[:, self.columns], self.low, self.high)
        score = self.candidate.score(self.estimator, known)
        return expit(self.slope * score + self.intercept)


def pairs() -> Iterator[tuple[FaultDefinition, View]]:
    """Every fault with every view that shows it."""
    return ((d, v) for d in CATALOGUE.values() for v in d.criteria)


def assessable(dataset: Dataset, fault: str, view: View) -> Dataset:
    """The clips of a view in which a fault can be assessed and its truth is known."""
    k = FAULT_NAMES.index(fault)
    known = np.isfinite(dataset.margin[:, k]) & np.isfinite(dataset.rule[:, k])
    return dataset.rows(known & (dataset.view == VIEWS.index(view)))


def columns_of(definition: FaultDefinition, view: View) -> NDArray[np.intp]:
    """Features that may bear on a fault: of the clip, the timing, all measures, the fault's own
    courses, and joints at address and about the fault's window."""
    criteria = definition.criteria[view]
    own = {c.measure.name for c in criteria}
    first = min(c.measure.start for c in criteria) - _ABOUT
    last = max(c.measure.end for c in criteria) + _ABOUT
    return np.array(
        [k for k, f in enumerate(FEATURE_NAMES) if _bears_on(f, own, first, last)], dtype=np.intp
    )


def _bears_on(feature: str, own: set[str], first: float, last: float) -> bool:
    kind, subject, *rest = feature.split(".", 2)
    if kind == "joint":
        at = float(rest[0][1:].rsplit(".", 1)[0])
        return at == 1.0 or first <= at <= last
    return kind != "curve" or subject in own


def fit_expert(
    definition: FaultDefinition, view: View, train: Dataset, calibration: Dataset
) -> Expert:
    """Compare the candidates by golfers left out, fit the best on all, calibrate.

    The candidate that knows no positions is a baseline and never served.
    """
    k = FAULT_NAMES.index(definition.name)
    train, calibration = (assessable(d, definition.name, view) for d in (train, calibration))
    columns = columns_of(definition, view)
    seen = np.isfinite(train.features[:, columns]).mean(axis=0)
    columns = columns[seen >= _LEAST_SEEN]
    low, high = np.nanpercentile(train.features[:, columns], _KNOWN, axis=0).astype(np.float32)
    rows, margin = np.clip(train.features[:, columns], low, high), train.margin[:, k]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        scores = {
            c.name: out_of_fold(c, train.raw if c.raw else rows, margin, train.golfer)
            for c in CANDIDATES
        }
        trials = {name: judge(score, margin) for name, score in scores.items()}
        best = min((c for c in CANDIDATES if not c.raw), key=lambda c: trials[c.name].log_loss)
        estimator = best.fit(rows, margin)
    slope, intercept = platt(scores[best.name], margin)
    model = expit(
        slope * best.score(estimator, np.clip(calibration.features[:, columns], low, high))
        + intercept
    )
    calibrations, losses = fit_calibrations(
        calibration.rule[:, k], model, calibration.margin[:, k], calibration.golfer
    )
    return Expert(
        definition.name,
        view,
        best.name,
        estimator,
        columns,
        np.nanmedian(rows, axis=0).astype(np.float32),
        low,
        high,
        slope,
        intercept,
        trials,
        calibrations[min(losses, key=lambda use: losses[use])],
        calibrations["rule"],
        losses,
    )


def fit_calibrations(
    rule: FloatArray, model: FloatArray, margin: FloatArray, golfers: NDArray[np.int64]
) -> tuple[dict[str, LogisticCalibration], dict[str, float]]:
    """Calibrate rule and model, each alone and together.

    All rows count, those in the grey zone by the side of the threshold on which they lie.

    Returns
    -------
    calibrations and log losses on golfers left out of ``rule``, ``model`` and ``both``
    """
    odds = np.column_stack([log_odds(rule), log_odds(model)])
    present = margin > 0.0
    uses = {"rule": (True, False), "model": (False, True), "both": (True, True)}
    calibrations, losses = {}, {}
    for name, used in uses.items():
        chance = np.empty(len(margin))
        for train, held in GroupKFold(_FOLDS).split(odds, groups=golfers):
            fitted = LogisticCalibration(*_weights(odds[train], present[train], used))
            chance[held] = expit(fitted.log_odds(*odds[held].T))
        losses[name] = float(log_loss(present, chance, labels=[False, True]))
        weights = _weights(odds, present, used)
        calibrations[name] = LogisticCalibration(*(round(float(w), 4) for w in weights))
    return calibrations, losses


def _weights(odds: FloatArray, present: NDArray[np.bool_], used: tuple[bool, bool]) -> FloatArray:
    """Weights, not negative, and intercept of least log loss, shape (3,)."""
    sign = np.where(present, 1.0, -1.0)

    def loss(w: FloatArray) -> float:
        missed = np.logaddexp(0.0, -sign * LogisticCalibration(*w).log_odds(*odds.T))
        return float(missed.mean() + _RIDGE * (w[:2] @ w[:2]))

    bounds = [(0.0, None if u else 0.0) for u in used] + [(None, None)]
    start = np.array([0.5 * used[0], 0.5 * used[1], 0.0])
    return np.asarray(minimize(loss, start, method="L-BFGS-B", bounds=bounds).x)


def fit_all(train: Dataset, calibration: Dataset, *, quiet: bool = False) -> list[Expert]:
    """An expert for every fault and view."""
    return [
        fit_expert(definition, view, train, calibration)
        for definition, view in tqdm(list(pairs()), desc="models", disable=quiet)
    ]


def export(experts: list[Expert], folder: Path, data: str, trained: date) -> dict[str, Any]:
    """Write ONNX models and the manifest, removing older models; returns the manifest.

    The version stands for the contents, so that the same models have the same version.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.onnx"):
        old.unlink()
    digest, entries = sha256(), []
    for expert in experts:
        model = to_onnx(expert.estimator, len(expert.columns))
        entry = _entry(expert)
        (folder / expert.name).write_bytes(model)
        digest.update(model + json.dumps(entry).encode())
        entries.append(entry)
    manifest = {
        "version": digest.hexdigest()[:12],
        "trained": trained.isoformat(),
        "data": data,
        "models": entries,
    }
    text = json.dumps(manifest, separators=(",", ":")).replace('{"fault"', '\n{"fault"')
    (folder / MANIFEST).write_text(text + "\n", encoding="utf-8")
    return manifest


def _entry(expert: Expert) -> dict[str, Any]:
    names = [FEATURE_NAMES[k] for k in expert.columns]
    return {
        "fault": expert.fault,
        "view": expert.view.value,
        "file": expert.name,
        "kind": expert.kind,
        "probability": expert.kind == "logistic",
        "slope": round(expert.slope, 6),
        "intercept": round(expert.intercept, 6),
        "calibration": asdict(expert.calibration),
        "features": fingerprint(names),
        "columns": names,
        "typical": _told(expert.typical),
        "low": _told(expert.low),
        "high": _told(expert.high),
    }


def _told(values: NDArray[np.float32]) -> list[float]:
    """As JSON numbers that give the same single-precision numbers again."""
    return [float(np.format_float_positional(v, unique=True)) for v in values]
