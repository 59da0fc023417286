"""What the model says of one fault, and how rule and model become one chance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import expit, logit

from service.analysis.types import FloatArray, Influence

_SUREST: Final[float] = 1e-3
"""Neither rule nor model is taken to be surer than this of either side."""
DISAGREEMENT_SHRINKAGE: Final[float] = 0.4
"""What remains of the log-odds where rule and model disagree. Simulated swings alone would have it
higher, as there the model is nearly always right; real ones differ from what it was made on."""


def log_odds(probabilities: FloatArray) -> FloatArray:
    """Logarithm of the odds of probabilities, held within those of 0.001 and 0.999.

    Parameters
    ----------
    probabilities : array of any shape

    Returns
    -------
    array of the same shape; NaN stays NaN

    >>> log_odds(np.array([0.5, 1.0])).round(3).tolist()
    [0.0, 6.907]
    """
    return np.asarray(logit(np.clip(probabilities, _SUREST, 1.0 - _SUREST)))


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

    def log_odds(self, rule: FloatArray, model: FloatArray) -> FloatArray:
        """Calibrated log-odds from the log-odds of rule and model, arrays of one shape."""
        odds = self.rule * rule + self.model * model + self.intercept
        apart = (rule > 0.0) != (model > 0.0)
        return np.asarray(np.where(apart, DISAGREEMENT_SHRINKAGE * odds, odds))

    def chance(self, rule_score: FloatArray, model_score: FloatArray) -> FloatArray:
        """Calibrated chance that the fault is present.

        Parameters
        ----------
        rule_score, model_score : arrays of one shape, probabilities from 0 to 1

        Returns
        -------
        array of the same shape

        >>> both = LogisticCalibration(1.0, 1.0, 0.0)
        >>> both.chance(np.array([0.9]), np.array([0.1])).round(6).tolist()
        [0.5]
        """
        return np.asarray(expit(self.log_odds(log_odds(rule_score), log_odds(model_score))))


@dataclass(frozen=True)
class ModelPrediction:
    """The model's probability of one fault and what it goes by.

    ``explain`` tells what in the swing moved the model most against a typical one; that costs
    far more than the probability, so it is asked only where it is told.
    """

    probability: float
    explain: Callable[[], tuple[Influence, ...]] = tuple

    def agrees(self, rule_score: float) -> bool:
        """Whether the model takes the side of the rule."""
        return (rule_score > 0.5) == (self.probability > 0.5)
