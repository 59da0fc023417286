"""Trios of simulated swings: before, a slow rehearsal without the fault, and after."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from dataclasses import replace

import numpy as np
import pytest

from service.analysis.analyse import analyse_many
from service.analysis.judging.classifier import Classifier
from service.analysis.types import Intent, SwingRecording, View
from service.lessons import Outcome, transfer_to_full_speed
from training.evaluation.card import MODELS
from training.simulator import (
    EstimatorNoise,
    FaultAmounts,
    film,
    random_camera,
    random_golfer,
    random_swing,
)

TRIOS = 16
LEAST_TOLD = {"upper_body_drift": 0.75, "long_backswing": 0.75, "trail_shoulder_drop": 0.15}
"""The tilt of the shoulders is the least sure of the three: mostly it can't be told."""
LEAST_RIGHT = 0.95


AFTER = {0.0: Outcome.HOLDS, 1.5: Outcome.LOST_AT_FULL_SPEED}
"""How much of the fault is there after the rehearsal, and what is to be said of it."""


def outcomes(fault: str) -> dict[float, list[Outcome]]:
    """What is said of players who lose the fault in rehearsal, by how much of it shows after."""
    films = [clip for seed in range(TRIOS) for clip in _filmed(fault, seed)]
    analyses = analyse_many(films, Classifier.load(MODELS))
    said: dict[float, list[Outcome]] = {amount: [] for amount in AFTER}
    for k in range(0, len(analyses), 2 + len(AFTER)):
        before, rehearsal, *afterwards = analyses[k : k + 2 + len(AFTER)]
        for amount, after in zip(AFTER, afterwards, strict=True):
            told = transfer_to_full_speed([before], [rehearsal], [after])
            said[amount].append(next(each.outcome for each in told if each.fault == fault))
    return said


def _filmed(fault: str, seed: int) -> Iterator[SwingRecording]:
    """Before, the rehearsal, and each way in which it goes on from there."""
    rng = np.random.default_rng(seed)
    golfer, camera = random_golfer(rng), random_camera(rng, View.FACE_ON)

    def clip(amount: float, intent: Intent, rng: np.random.Generator) -> SwingRecording:
        motion = random_swing(rng, golfer, FaultAmounts(**{fault: amount}), intent)
        seen = film(motion, camera, 120.0, noise=EstimatorNoise(), rng=rng, tell=True)
        return replace(seen, intent=intent)

    yield clip(1.5, Intent.FULL_SPEED, rng)
    yield clip(0.0, Intent.REHEARSAL, rng)
    for amount in AFTER:
        yield clip(amount, Intent.FULL_SPEED, deepcopy(rng))


@pytest.mark.parametrize("fault", LEAST_TOLD)
def test_what_the_rehearsal_changed_is_followed_to_full_speed(fault: str) -> None:
    for amount, said in outcomes(fault).items():
        told = [outcome for outcome in said if outcome is not Outcome.CANNOT_TELL]
        assert len(told) >= LEAST_TOLD[fault] * TRIOS
        assert told.count(AFTER[amount]) >= LEAST_RIGHT * len(told)
