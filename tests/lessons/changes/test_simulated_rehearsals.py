"""Trios of simulated swings: before, a slow rehearsal without the fault, and after."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.judging.classifier import Classifier
from service.analysis.types import Intent, View
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

TRIOS = 24
LEAST_TOLD = {"upper_body_drift": 0.75, "long_backswing": 0.75, "trail_shoulder_drop": 0.15}
"""The tilt of the shoulders is the least sure of the three: mostly it can't be told."""
LEAST_RIGHT = 0.95


def outcomes(fault: str, after: float) -> list[Outcome]:
    """What is said of players who lose the fault in rehearsal and show this much of it after."""
    said, classifier = [], Classifier.load(MODELS)
    for seed in range(TRIOS):
        rng = np.random.default_rng(seed)
        golfer, camera = random_golfer(rng), random_camera(rng, View.FACE_ON)
        plan = (
            (1.5, Intent.FULL_SPEED),
            (0.0, Intent.REHEARSAL),
            (after, Intent.FULL_SPEED),
        )
        trio = []
        for amount, intent in plan:
            motion = random_swing(rng, golfer, FaultAmounts(**{fault: amount}), intent)
            clip = film(motion, camera, 120.0, noise=EstimatorNoise(), rng=rng, tell=True)
            trio.append([analyse(replace(clip, intent=intent), classifier)])
        said.append(next(a.outcome for a in transfer_to_full_speed(*trio) if a.fault == fault))
    return said


@pytest.mark.parametrize("fault", ["upper_body_drift", "long_backswing", "trail_shoulder_drop"])
@pytest.mark.parametrize(
    ("after", "outcome"), [(0.0, Outcome.HOLDS), (1.5, Outcome.LOST_AT_FULL_SPEED)]
)
def test_what_the_rehearsal_changed_is_followed_to_full_speed(
    fault: str, after: float, outcome: Outcome
) -> None:
    told = [o for o in outcomes(fault, after) if o is not Outcome.CANNOT_TELL]
    assert len(told) >= LEAST_TOLD[fault] * TRIOS
    assert told.count(outcome) >= LEAST_RIGHT * len(told)
