"""The trained part behind one call: estimates of measures, and how sure a rule's score makes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import inf, isnan
from pathlib import Path
from typing import Any, Final

import numpy as np
import onnxruntime
from numpy.typing import NDArray

from service.analysis.judging.calibration import UNCALIBRATED, LogisticCalibration
from service.analysis.judging.estimates import (
    UNFAMILIAR_WIDENING,
    Estimate,
    Range,
    nearness,
    pooled,
    widened,
    with_estimates,
)
from service.analysis.judging.features import FEATURE_NAMES, feature_vectors, fingerprint
from service.analysis.judging.manifest import MANIFEST, ModelError, hash_of, read_manifest
from service.analysis.measured import MeasuredSwing
from service.analysis.measures.definition import MeasuredValue
from service.analysis.onnx_session import open_session
from service.analysis.types import FloatArray, Level, ModelVersion, Remark, View

Watch = Callable[[View, NDArray[np.float32]], None]
"""Told the view and the features, shape (n_features,), of a swing."""

_PLACE_OF_FEATURE: Final[Mapping[str, int]] = {name: k for k, name in enumerate(FEATURE_NAMES)}
_TOLD_FEATURES: Final[int] = 3
_EVERYWHERE: Final[tuple[float, float]] = (-inf, inf)
_OUTPUTS: Final = ("estimate",)
"""Of each model; to look up which it has takes a fifth as long as to run it."""
_UNFAMILIAR: Final = Remark(
    "unlike_training",
    Level.INFO,
    "This swing is unlike those that the trained estimators were made from: the rules judge what "
    "was measured, with wider error.",
    "Check that view, frame rate and layout are right; nothing need be wrong.",
)


@dataclass(frozen=True)
class Estimator:
    """The model of one measure in one view.

    ``columns`` are the features it takes, ``low`` and ``high`` the range in which it has known
    them; what lies beyond is taken at the bound, since no model is to be trusted further out than
    it has seen. The correction grows with the measured value by ``slope`` about ``center``;
    as ``slope`` is above -1, what is estimated rises with what is measured. ``weight`` is its share
    in what is told, the rest being what was measured; ``width`` is the factor on the spread of
    both. ``reach`` is the range of measured values within which it has that share
    (:func:`service.analysis.judging.estimates.nearness`).
    """

    session: onnxruntime.InferenceSession
    columns: NDArray[np.intp]
    low: NDArray[np.float32]
    high: NDArray[np.float32]
    slope: float
    center: float
    weight: float
    width: float
    reach: tuple[float, float] = _EVERYWHERE

    def estimates(
        self, features: NDArray[np.float32], values: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Corrections and standard deviations.

        Parameters
        ----------
        features : array of shape (n, n_features)
        values : array of shape (n,)
            What was measured.

        Returns
        -------
        two arrays of shape (n,)
        """
        corrections, spreads = _together((self,)).estimates(features, values[None])
        return corrections[0], spreads[0]


@dataclass(frozen=True)
class _Together:
    """Some estimators, asked about the same swings.

    Their features, one estimator's after the other, are looked up and held to their ranges at once.
    """

    estimators: tuple[Estimator, ...]
    columns: NDArray[np.intp]
    low: NDArray[np.float32]
    high: NDArray[np.float32]
    parts: tuple[slice, ...]
    slopes: FloatArray
    centers: FloatArray
    weights: FloatArray
    widths: FloatArray
    reaches: tuple[FloatArray, FloatArray]

    def estimates(
        self, features: NDArray[np.float32], values: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Corrections and standard deviations, two arrays of shape (n_estimators, n).

        Parameters
        ----------
        features : array of shape (n, n_features)
        values : array of shape (n_estimators, n)
            What was measured; NaN where nothing was.
        """
        known = np.minimum(np.maximum(features.take(self.columns, axis=1), self.low), self.high)
        told = np.full((*values.shape, 2), np.nan)
        asked = np.logical_or.reduce(~np.isnan(values), axis=1)
        for k, (estimator, part) in enumerate(zip(self.estimators, self.parts, strict=True)):
            if asked[k]:
                own = np.ascontiguousarray(known[:, part])
                (told[k],) = estimator.session.run(_OUTPUTS, {"features": own})
        corrections = told[..., 0] + self.slopes * (values - self.centers)
        return corrections, np.exp(told[..., 1])


def _together(estimators: tuple[Estimator, ...]) -> _Together:
    sizes = [each.columns.size for each in estimators]
    return _Together(
        estimators,
        np.concatenate([each.columns for each in estimators]),
        np.concatenate([each.low for each in estimators]),
        np.concatenate([each.high for each in estimators]),
        tuple(slice(end - size, end) for size, end in zip(sizes, np.cumsum(sizes), strict=True)),
        np.array([[each.slope] for each in estimators]),
        np.array([[each.center] for each in estimators]),
        np.array([[each.weight] for each in estimators]),
        np.array([[each.width] for each in estimators]),
        (
            np.array([[each.reach[0]] for each in estimators]),
            np.array([[each.reach[1]] for each in estimators]),
        ),
    )


@dataclass(frozen=True)
class Classifier:
    """ONNX models, one a judged measure and view, run on one thread each so that answers and
    latency are the same on any machine; and the calibration of each fault and view.

    ``switched_off`` says of each measure and view whose model can't be used why not; there what
    was measured stands, and the other models go on serving. ``watch`` is told the features of
    every swing, to hold them against those of training.
    """

    identity: ModelVersion
    estimators: Mapping[tuple[str, View], Estimator]
    calibrations: Mapping[tuple[str, View], LogisticCalibration]
    ranges: Mapping[View, Range]
    switched_off: Mapping[tuple[str, View], str] = field(default_factory=dict)
    watch: Watch | None = None

    @classmethod
    def load(cls, folder: Path) -> Classifier:
        """Load what training wrote; each model's file must be the one whose hash it told.

        Raises
        ------
        ManifestError
            When the manifest does not fit its schema.
        ModelError
            When there is no manifest, or no model of it can be used. Either message says why.
        """
        try:
            manifest = read_manifest((folder / MANIFEST).read_bytes())
        except FileNotFoundError:
            raise ModelError(f"{folder} holds no {MANIFEST}") from None
        identity = ModelVersion(manifest["version"], manifest["trained"], manifest["data"])
        entries = {(e["measure"], View(e["view"])): e for e in manifest["estimators"]}
        calibrations = {
            (e["fault"], View(e["view"])): LogisticCalibration(
                e["slope"], e["surest_absent"], e["surest_present"]
            )
            for e in manifest["calibrations"]
        }
        ranges = {View(e["view"]): _range(e) for e in manifest["ranges"]}
        estimators, switched_off = {}, {}
        for measure_and_view, entry in entries.items():
            try:
                estimators[measure_and_view] = _estimator(folder, entry)
            except ModelError as error:
                switched_off[measure_and_view] = str(error)
        if entries and not estimators:
            reasons = "; ".join(dict.fromkeys(switched_off.values()))
            raise ModelError(f"{folder}: no usable model ({reasons}).")
        return cls(identity, estimators, calibrations, ranges, switched_off)

    def estimate(self, swing: MeasuredSwing) -> MeasuredSwing:
        """The swing with what is estimated in the place of what was measured.

        A swing unlike those that the estimators were made from keeps what was measured, with
        wider error, and a remark says so.
        """
        return self.estimate_all((swing,))[0]

    def estimate_all(self, swings: Sequence[MeasuredSwing]) -> list[MeasuredSwing]:
        """The same of many swings, for which each estimator runs once."""
        if not swings:
            return []
        vectors = feature_vectors(swings)
        estimates = self.estimates(vectors, swings)
        return [self._estimated(*each) for each in zip(swings, vectors, estimates, strict=True)]

    def _estimated(
        self, swing: MeasuredSwing, vector: NDArray[np.float32], estimates: Mapping[str, Estimate]
    ) -> MeasuredSwing:
        if self.watch is not None:
            self.watch(swing.view.value, vector)
        known = self.ranges.get(swing.view.value)
        if known is None:
            return with_estimates(swing, estimates)
        familiarity = known.familiarity(vector)
        if familiarity.inside:
            return with_estimates(replace(swing, familiarity=familiarity), estimates)
        remarks = (*swing.quality.remarks, _UNFAMILIAR)
        quality = replace(swing.quality, remarks=remarks)
        strange = replace(swing, familiarity=familiarity, quality=quality)
        return widened(strange, UNFAMILIAR_WIDENING)

    def estimates(
        self, vectors: NDArray[np.float32], swings: Sequence[MeasuredSwing]
    ) -> list[dict[str, Estimate]]:
        """Pooled estimates of the measures that have an estimator in each swing's view, by name.

        Parameters
        ----------
        vectors : array of shape (n_swings, n_features)
        """
        told: list[dict[str, Estimate]] = [{} for _ in swings]
        for view, (names, together) in self._by_view.items():
            rows = [k for k, swing in enumerate(swings) if swing.view.value is view]
            if not rows:
                continue
            measured = [[_numbers_of(swings[k].values.get(n)) for k in rows] for n in names]
            values, uncertainties = np.array(measured).transpose(2, 0, 1)
            own = vectors if len(rows) == len(vectors) else vectors[rows]
            estimates = together.estimates(own, values)
            shares = together.weights, together.widths, nearness(values, *together.reaches)
            corrections, spreads = pooled(uncertainties, *estimates, *shares)
            for name, *of_each in zip(names, corrections.tolist(), spreads.tolist(), strict=True):
                for row, correction, spread in zip(rows, *of_each, strict=True):
                    if not isnan(correction):
                        told[row][name] = Estimate(correction, spread)
        return told

    @cached_property
    def _by_view(self) -> dict[View, tuple[list[str], _Together]]:
        """Names of the measures that have an estimator in a view, and the estimators."""
        names: dict[View, list[str]] = {}
        for name, view in self.estimators:
            names.setdefault(view, []).append(name)
        return {
            view: (told, _together(tuple(self.estimators[name, view] for name in told)))
            for view, told in names.items()
        }

    def calibration(self, fault: str, view: View) -> LogisticCalibration:
        """The calibration of a fault in a view."""
        return self.calibrations.get((fault, view), UNCALIBRATED)


def _numbers_of(measured: object) -> tuple[float, float]:
    """What was measured and its uncertainty; NaN where nothing was."""
    if isinstance(measured, MeasuredValue):
        return measured.value, measured.uncertainty
    return float("nan"), float("nan")


def _estimator(folder: Path, entry: dict[str, Any]) -> Estimator:
    """One model of the manifest.

    Raises
    ------
    ModelError
        When it reads features that there are not, or its file can't be used or is another than
        training wrote.
    """
    try:
        model = (folder / entry["file"]).read_bytes()
        if hash_of(model) != entry["sha256"]:
            raise ModelError(f"{entry['file']}: not the file that training wrote, by its SHA-256")
        return Estimator(
            session=open_session(model),
            columns=_columns(entry["file"], entry["columns"], entry["features"]),
            low=_numbers(entry["low"]),
            high=_numbers(entry["high"]),
            slope=entry["slope"],
            center=entry["center"],
            weight=entry["weight"],
            width=entry["width"],
            reach=tuple(entry.get("reach", _EVERYWHERE)),
        )
    except ModelError:
        raise
    except Exception as error:
        raise ModelError(f"{entry['file']}: can't be used ({error})") from error


def _range(entry: dict[str, Any]) -> Range:
    """Features that there are no more are left out: the others still tell what is familiar."""
    kept = [k for k, name in enumerate(entry["columns"]) if name in _PLACE_OF_FEATURE]
    return Range(
        np.array([_PLACE_OF_FEATURE[entry["columns"][k]] for k in kept], dtype=np.intp),
        _numbers(entry["low"])[kept],
        _numbers(entry["high"])[kept],
        entry["most"],
    )


def _columns(file: str, names: list[str], expected: str) -> NDArray[np.intp]:
    gone = [name for name in names if name not in _PLACE_OF_FEATURE]
    if gone or not names:
        told = ", ".join(str(name) for name in gone[:_TOLD_FEATURES]) or "none"
        raise ModelError(f"{file}: made for other features ({told}); train it anew")
    if expected != fingerprint(names):
        raise ModelError(f"{file}: its features are not those it was made for")
    return np.array([_PLACE_OF_FEATURE[name] for name in names], dtype=np.intp)


def _numbers(values: list[float]) -> NDArray[np.float32]:
    return np.array(values, dtype=np.float32)
