"""From the rule's score to a chance that holds on golfers of another make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import expit, logit

from service.analysis.types import FloatArray

_LEAST_SCORE: Final[float] = 1e-6
"""Scores are kept this far from 0 and 1, where they have no odds."""
SUREST: Final[float] = 0.99
"""No finding is told surer than this: nobody has measured more."""


@dataclass(frozen=True)
class LogisticCalibration:
    """Logistic calibration of a rule's score on sources that no estimator was fitted on.

    The chance has ``slope`` times the log-odds of the score. There is no intercept, so that a
    chance lies on the side of one half on which the score lies: calibration makes a finding more
    or less sure and never turns it round. ``surest_absent`` and ``surest_present`` are the shares
    that were right where the chance was lowest and where it was highest, as far as the number of
    clips supports it; no chance goes beyond. They are two, as faults are rarer than sound swings
    and a verdict of one is wrong more often.
    """

    slope: float
    surest_absent: float = SUREST
    surest_present: float = SUREST

    def chance(self, score: float) -> float:
        """Chance that the fault is present.

        >>> round(LogisticCalibration(2.0).chance(0.75), 6)
        0.9
        >>> LogisticCalibration(2.0, surest_present=0.95).chance(1.0)
        0.95
        """
        return float(self.chances(np.array([score]))[0])

    def chances(self, scores: FloatArray) -> FloatArray:
        """The same of many, an array of the same shape; NaN stays NaN."""
        return chances_by((self,), scores[..., None])[..., 0]


def chances_by(calibrations: Sequence[LogisticCalibration], scores: FloatArray) -> FloatArray:
    """Chances by several calibrations, each for its own scores; NaN stays NaN.

    Parameters
    ----------
    scores : array of shape (..., n_calibrations)

    Returns
    -------
    array of the same shape
    """
    numbers = [(each.slope, each.surest_absent, each.surest_present) for each in calibrations]
    slopes, absent, present = np.array(numbers).reshape(-1, 3).T
    odds = slopes * logit(np.minimum(np.maximum(scores, _LEAST_SCORE), 1.0 - _LEAST_SCORE))
    return np.asarray(np.minimum(np.maximum(expit(odds), 1.0 - absent), present))


UNCALIBRATED: Final = LogisticCalibration(1.0)
"""Of the rules where nothing was learnt: the score itself, never surer than :data:`SUREST`."""
