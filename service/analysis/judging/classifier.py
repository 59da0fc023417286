"""The trained model behind one call, for one swing or many."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Final

import numpy as np
import onnxruntime
from numpy.typing import NDArray
from scipy.special import expit

from service.analysis.judging.calibration import LogisticCalibration, ModelPrediction, log_odds
from service.analysis.judging.features import FEATURE_NAMES, fingerprint, indices_by_subject
from service.analysis.types import FloatArray, Influence, ModelVersion, View

MANIFEST: Final[str] = "manifest.json"
_PLACE_OF_FEATURE: Final[Mapping[str, int]] = {name: k for k, name in enumerate(FEATURE_NAMES)}
_TOLD_FEATURES: Final[int] = 3
_TOLD_INFLUENCES: Final[int] = 3
_LEAST_INFLUENCE: Final[float] = 0.1
"""Log-odds below which something in the swing is not worth naming."""


class ModelError(Exception):
    """A model can't be used: it is missing, broken or reads features that there are not.

    Raised for a whole folder when no model in it can be used.
    """


@dataclass(frozen=True)
class _Expert:
    """The model of one fault in one view.

    ``columns`` are the features it takes, ``typical`` their values in a typical swing, ``low``
    and ``high`` the range in which it has known them; what lies beyond is taken at the
    bound, since no model is to be trusted further out than it has seen.
    It tells a ``probability`` or any other score, such as how far beyond the threshold a
    swing is; ``slope`` and ``intercept`` make log-odds of it (of the log-odds of a probability).
    """

    session: onnxruntime.InferenceSession
    columns: NDArray[np.intp]
    typical: NDArray[np.float32]
    low: NDArray[np.float32]
    high: NDArray[np.float32]
    probability: bool
    slope: float
    intercept: float
    calibration: LogisticCalibration

    def probabilities(self, features: NDArray[np.float32]) -> FloatArray:
        """Of swings of shape (n, n_features) to shape (n,)."""
        return self._of_known(features[:, self.columns])

    def _of_known(self, values: NDArray[np.float32]) -> FloatArray:
        """Of the features it takes, shape (n, n_columns), to shape (n,)."""
        known = np.clip(values, self.low, self.high)
        outputs = self.session.run(None, {"features": known})
        score = np.asarray(outputs[-1], dtype=np.float64)[:, -1]
        if self.probability:
            score = log_odds(score)
        return np.asarray(expit(self.slope * score + self.intercept))

    @cached_property
    def subjects(self) -> dict[str, NDArray[np.intp]]:
        """Places in ``columns`` of everything about one subject, by the subject's name."""
        place = {int(column): k for k, column in enumerate(self.columns)}
        found = {
            subject: np.array([place[k] for k in indices if k in place], dtype=np.intp)
            for subject, indices in indices_by_subject().items()
        }
        return {subject: places for subject, places in found.items() if places.size}

    @cached_property
    def _left_out(self) -> NDArray[np.bool_]:
        """Which columns belong to each subject, a first row with none; (1 + n, n_columns)."""
        masks = np.zeros((1 + len(self.subjects), len(self.columns)), dtype=np.bool_)
        for row, places in enumerate(self.subjects.values(), start=1):
            masks[row, places] = True
        return masks

    def influences(self, vector: NDArray[np.float32]) -> tuple[Influence, ...]:
        """What moves the log-odds of one swing most when replaced by the typical."""
        rows = np.where(self._left_out, self.typical, vector[self.columns])
        odds = log_odds(self._of_known(rows))
        moves = odds[0] - odds[1:]
        names = list(self.subjects)
        most = np.argsort(-np.abs(moves))[:_TOLD_INFLUENCES]
        return tuple(
            Influence(names[k], float(moves[k])) for k in most if abs(moves[k]) > _LEAST_INFLUENCE
        )


@dataclass(frozen=True)
class Classifier:
    """ONNX models, one a fault and view, run on one thread each so that answers and
    latency are the same on any machine.

    ``switched_off`` says of each fault and view whose model can't be used why not; there the rules
    judge alone, and the other models go on serving.
    """

    identity: ModelVersion
    experts: Mapping[tuple[str, View], _Expert]
    switched_off: Mapping[tuple[str, View], str] = field(default_factory=dict)

    @classmethod
    def load(cls, folder: Path) -> Classifier:
        """Load what training wrote.

        Raises
        ------
        ModelError
            When there is no usable model in the folder; the message says why.
        """
        try:
            manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
            identity = ModelVersion(manifest["version"], manifest["trained"], manifest["data"])
            entries = {(e["fault"], View(e["view"])): e for e in manifest["models"]}
        except Exception as error:
            raise ModelError(f"{folder}: no usable model ({error}).") from error
        experts, switched_off = {}, {}
        for fault_and_view, entry in entries.items():
            try:
                experts[fault_and_view] = _expert(folder, entry)
            except ModelError as error:
                switched_off[fault_and_view] = str(error)
        if not experts:
            reasons = "; ".join(dict.fromkeys(switched_off.values())) or "it lists none"
            raise ModelError(f"{folder}: no usable model ({reasons}).")
        return cls(identity, experts, switched_off)

    def probabilities(self, fault: str, view: View, features: NDArray[np.float32]) -> FloatArray:
        """The model's own probabilities of one fault.

        Parameters
        ----------
        features : array of shape (n_swings, n_features) or (n_features,)

        Returns
        -------
        array of shape (n_swings,); NaN where there is no model of this fault in this view.
        """
        rows = np.atleast_2d(features)
        expert = self.experts.get((fault, view))
        return np.full(len(rows), np.nan) if expert is None else expert.probabilities(rows)

    def predict(
        self, fault: str, view: View, vector: NDArray[np.float32]
    ) -> ModelPrediction | None:
        """What it says of one fault in one swing; ``None`` where it has no model of it.

        Parameters
        ----------
        vector : array of shape (n_features,)
        """
        expert = self.experts.get((fault, view))
        if expert is None:
            return None
        probability = float(expert.probabilities(vector[None])[0])
        return ModelPrediction(probability, lambda: expert.influences(vector))


def open_session(model: bytes) -> onnxruntime.InferenceSession:
    """A session under the thread policy of the service: one thread, in order."""
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.execution_mode = onnxruntime.ExecutionMode.ORT_SEQUENTIAL
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])


def _expert(folder: Path, entry: dict[str, Any]) -> _Expert:
    """One model of the manifest.

    Raises
    ------
    ModelError
        When it reads features that there are not, or its file can't be used.
    """
    try:
        return _built(folder, entry)
    except ModelError:
        raise
    except Exception as error:
        raise ModelError(f"{entry.get('file', 'a model')}: can't be used ({error})") from error


def _built(folder: Path, entry: dict[str, Any]) -> _Expert:
    names = entry["columns"]
    gone = [name for name in names if name not in _PLACE_OF_FEATURE]
    if gone or not names:
        told = ", ".join(str(name) for name in gone[:_TOLD_FEATURES]) or "none"
        raise ModelError(f"{entry['file']}: made for other features ({told}); train it anew")
    if entry["features"] != fingerprint(names):
        raise ModelError(f"{entry['file']}: its features are not those it was made for")
    return _Expert(
        session=open_session((folder / entry["file"]).read_bytes()),
        columns=np.array([_PLACE_OF_FEATURE[name] for name in names], dtype=np.intp),
        typical=_numbers(entry["typical"]),
        low=_numbers(entry["low"]),
        high=_numbers(entry["high"]),
        probability=entry["probability"],
        slope=entry["slope"],
        intercept=entry["intercept"],
        calibration=LogisticCalibration(**entry["calibration"]),
    )


def _numbers(values: list[float]) -> NDArray[np.float32]:
    return np.array(values, dtype=np.float32)
