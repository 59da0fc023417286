"""What the model says of one fault, and how rule and model become one chance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log
from typing import Final

import numpy as np

from service.analysis.types import FloatArray, Influence

_SUREST: Final[float] = 1e-3
"""Neither rule nor model is taken to be surer than this of either side."""
DISAGREEMENT_SHRINKAGE: Final[float] = 0.4
"""What remains of the log-odds where rule and model disagree. Simulated swings alone would have it
higher, as there the model is nearly always right; real ones differ from what it was made on."""


def log_odds(probability: float) -> float:
    """Logarithm of the odds of a probability, held within those of 0.001 and 0.999.

    >>> log_odds(0.5)
    0.0
    """
    held = min(max(probability, _SUREST), 1.0 - _SUREST)
    return log(held / (1.0 - held))


def all_log_odds(probabilities: FloatArray) -> FloatArray:
    """The same of many at once; an array of the same shape."""
    held = np.clip(probabilities, _SUREST, 1.0 - _SUREST)
    return np.asarray(np.log(held / (1.0 - held)))


def agree(rule_score: float, model_score: float) -> bool:
    """Whether rule and model take the same side."""
    return (rule_score > 0.5) == (model_score > 0.5)


@dataclass(frozen=True)
class LogisticCalibration:
    """Logistic calibration of rule and model together, on data neither was fitted on.

    The chance has log-odds ``rule * r + model * m + intercept``, r and m being the log-odds of the
    two. Weights are not negative, so that where the two disagree they pull against each other;
    beyond that :data:`DISAGREEMENT_SHRINKAGE` then draws the log-odds toward even, so that the
    confidence falls even where a weight of 0 leaves one of them out.
    """

    rule: float
    model: float
    intercept: float

    def chance(self, rule_score: float, model_score: float) -> float:
        """Calibrated chance that the fault is present.

        >>> round(LogisticCalibration(1.0, 1.0, 0.0).chance(0.9, 0.1), 6)
        0.5
        """
        odds = self.rule * log_odds(rule_score) + self.model * log_odds(model_score)
        odds += self.intercept
        return 1.0 / (
            1.0 + exp(-(odds if agree(rule_score, model_score) else DISAGREEMENT_SHRINKAGE * odds))
        )


@dataclass(frozen=True)
class ModelPrediction:
    """The model's probability of one fault and what it goes by.

    ``explain`` tells what in the swing moved the model most against a typical one; that costs
    far more than the probability, so it is asked only where it is told.
    """

    probability: float
    stack: LogisticCalibration
    explain: Callable[[], tuple[Influence, ...]] = tuple

    def chance(self, rule_score: float) -> float:
        """Chance that the fault is present, rule and model together."""
        return self.stack.chance(rule_score, self.probability)

    def agrees(self, rule_score: float) -> bool:
        """Whether the model takes the side of the rule."""
        return agree(rule_score, self.probability)
