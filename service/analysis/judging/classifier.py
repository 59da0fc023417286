"""The trained part behind one call: estimates of measures, and how sure a rule's score makes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
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
    pooled,
    widened,
    with_estimates,
)
from service.analysis.judging.features import FEATURE_NAMES, feature_vector, fingerprint
from service.analysis.judging.manifest import MANIFEST, ModelError, hash_of, read_manifest
from service.analysis.measured import MeasuredSwing
from service.analysis.measures.definition import MeasuredValue
from service.analysis.types import FloatArray, Level, ModelVersion, Remark, View

_PLACE_OF_FEATURE: Final[Mapping[str, int]] = {name: k for k, name in enumerate(FEATURE_NAMES)}
_TOLD_FEATURES: Final[int] = 3
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
    as ``slope`` is above -1, what is estimated rises with what is measured.
    """

    session: onnxruntime.InferenceSession
    columns: NDArray[np.intp]
    low: NDArray[np.float32]
    high: NDArray[np.float32]
    slope: float
    center: float

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
        known = np.clip(features[:, self.columns], self.low, self.high)
        (told,) = self.session.run(None, {"features": known})
        told = np.asarray(told, dtype=np.float64)
        return told[:, 0] + self.slope * (values - self.center), np.exp(told[:, 1])


@dataclass(frozen=True)
class Classifier:
    """ONNX models, one a judged measure and view, run on one thread each so that answers and
    latency are the same on any machine; and the calibration of each fault and view.

    ``switched_off`` says of each measure and view whose model can't be used why not; there what
    was measured stands, and the other models go on serving.
    """

    identity: ModelVersion
    estimators: Mapping[tuple[str, View], Estimator]
    calibrations: Mapping[tuple[str, View], LogisticCalibration]
    ranges: Mapping[View, Range]
    switched_off: Mapping[tuple[str, View], str] = field(default_factory=dict)

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
            (e["fault"], View(e["view"])): LogisticCalibration(e["slope"], e["surest"])
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
        vector, view = feature_vector(swing), swing.view.value
        known = self.ranges.get(view)
        if known is not None:
            familiarity = known.familiarity(vector)
            swing = replace(swing, familiarity=familiarity)
            if not familiarity.inside:
                remarks = (*swing.quality.remarks, _UNFAMILIAR)
                swing = replace(swing, quality=replace(swing.quality, remarks=remarks))
                return widened(swing, UNFAMILIAR_WIDENING)
        return with_estimates(swing, self.estimates(vector, swing))

    def estimates(self, vector: NDArray[np.float32], swing: MeasuredSwing) -> dict[str, Estimate]:
        """Pooled estimates of the measures that have an estimator in the swing's view, by name.

        Parameters
        ----------
        vector : array of shape (n_features,)
        """
        told = {}
        for (name, view), estimator in self.estimators.items():
            found = swing.values.get(name)
            if view is swing.view.value and isinstance(found, MeasuredValue):
                off, spread = estimator.estimates(vector[None], np.array([found.value]))
                off, spread = pooled(np.array([found.uncertainty]), off, spread)
                told[name] = Estimate(float(off[0]), float(spread[0]))
        return told

    def calibration(self, fault: str, view: View) -> LogisticCalibration:
        """The calibration of a fault in a view."""
        return self.calibrations.get((fault, view), UNCALIBRATED)


def open_session(model: bytes) -> onnxruntime.InferenceSession:
    """A session under the thread policy of the service: one thread, in order."""
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.execution_mode = onnxruntime.ExecutionMode.ORT_SEQUENTIAL
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])


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
