"""A training run so small that tests can make it."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from service.analysis.faults import CATALOGUE
from service.analysis.judging.classifier import Classifier
from service.analysis.types import View
from training.data.dataset import Dataset, build
from training.models.fit import Expert, export, fit_expert

PAIRS = (("trail_knee_drive", View.DOWN_THE_LINE), ("upper_body_drift", View.FACE_ON))


@cache
def split(name: str, golfers: int = 30) -> Dataset:
    return build(3, name, golfers, quiet=True)


@cache
def experts() -> tuple[Expert, ...]:
    train, calibration = split("train", 60), split("calibration")
    return tuple(fit_expert(CATALOGUE[f], v, train, calibration) for f, v in PAIRS)


@cache
def folder() -> Path:
    path = Path(mkdtemp())
    export(list(experts()), path, "small", date(2026, 1, 2))
    return path


@cache
def classifier() -> Classifier:
    return Classifier.load(folder())
