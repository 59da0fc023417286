"""What the service loads: ONNX models and the manifest beside them."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.judging.calibration import LogisticCalibration
from service.analysis.judging.estimates import Range
from service.analysis.judging.features import FEATURE_NAMES, fingerprint
from service.analysis.judging.manifest import MANIFEST, hash_of
from service.analysis.types import View
from training.models.fit import Estimator
from training.models.to_onnx import to_onnx

_DIGITS: Final[int] = 6


@dataclass(frozen=True)
class Learned:
    """Everything that training learns, as the service takes it."""

    estimators: tuple[Estimator, ...]
    calibrations: dict[tuple[str, View], LogisticCalibration]
    ranges: dict[View, Range]


def export(learned: Learned, folder: Path, data: str, trained: date) -> dict[str, Any]:
    """Write ONNX models and the manifest, removing older models; returns the manifest.

    The version stands for the contents, so that the same models have the same version; the hash
    of each file lets the service tell that it serves the file written here.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.onnx"):
        old.unlink()
    digest, entries = sha256(), []
    for estimator in learned.estimators:
        model, entry = to_onnx(estimator), _entry(estimator)
        (folder / estimator.name).write_bytes(model)
        digest.update(model + json.dumps(entry).encode())
        entries.append({**entry, "sha256": hash_of(model)})
    calibrations = [
        {
            "fault": fault,
            "view": view.value,
            "slope": c.slope,
            "surest_absent": c.surest_absent,
            "surest_present": c.surest_present,
        }
        for (fault, view), c in learned.calibrations.items()
    ]
    ranges = [_range(view, known) for view, known in learned.ranges.items()]
    digest.update(json.dumps([calibrations, ranges]).encode())
    manifest = {
        "version": digest.hexdigest()[:12],
        "trained": trained.isoformat(),
        "data": data,
        "calibrations": calibrations,
        "ranges": ranges,
        "estimators": entries,
    }
    text = json.dumps(manifest, separators=(",", ":"))
    for head in ('{"fault"', '{"measure"', '{"view"'):
        text = text.replace(head, "\n" + head)
    (folder / MANIFEST).write_text(text + "\n", encoding="utf-8")
    return manifest


def _entry(estimator: Estimator) -> dict[str, Any]:
    names = _names(estimator.columns)
    return {
        "measure": estimator.measure,
        "view": estimator.view.value,
        "file": estimator.name,
        "slope": round(estimator.slope, _DIGITS),
        "center": round(estimator.center, _DIGITS),
        "weight": round(estimator.weight, _DIGITS),
        "width": round(estimator.width, _DIGITS),
        "reach": [round(end, _DIGITS) for end in estimator.reach],
        "features": fingerprint(names),
        "columns": names,
        "low": _told(estimator.low),
        "high": _told(estimator.high),
    }


def _range(view: View, known: Range) -> dict[str, Any]:
    return {
        "view": view.value,
        "most": round(known.most, 4),
        "columns": _names(known.columns),
        "low": _told(known.low),
        "high": _told(known.high),
    }


def _names(columns: Iterable[int]) -> list[str]:
    return [FEATURE_NAMES[k] for k in columns]


def _told(values: NDArray[np.float32]) -> list[float]:
    """As JSON numbers that give the same single-precision numbers again."""
    return [float(np.format_float_positional(v, unique=True)) for v in values]
