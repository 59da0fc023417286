"""A training run so small that tests can make it; what would be too few clips serves here."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from unittest.mock import patch

from service.analysis.judging.classifier import Classifier
from service.analysis.types import View
from tests.taking_turns import made_once
from training.data.dataset import Dataset, build
from training.models.export import Learned, export
from training.models.fit import pairs
from training.models.learn import learn
from training.models.left_out import learnt_without
from training.models.trial import Trial

ESTIMATED = (("trail_knee_travel", View.DOWN_THE_LINE), ("upper_body_drift", View.FACE_ON))
GOLFERS = {"joint angles": 20, "shifted": 20}
FEW = 50


@cache
def data() -> Dataset:
    return made_once("small data", lambda: build(5, "train", GOLFERS, learnt_without))


@cache
def _learned() -> tuple[Learned, list[Trial]]:
    chosen = [(m, v) for m, v in pairs() if (m.name, v) in ESTIMATED]
    with patch("training.models.trial._LEAST_ROWS", FEW):
        return made_once("small models", lambda: learn(data(), chosen))


def learned() -> Learned:
    return _learned()[0]


def trials() -> list[Trial]:
    return _learned()[1]


@cache
def folder() -> Path:
    path = Path(mkdtemp())
    export(learned(), path, "small", date(2026, 1, 2))
    return path


@cache
def classifier() -> Classifier:
    return Classifier.load(folder())
