"""From the rule's score to a chance that holds on golfers of another make."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import expit, logit

from service.analysis.types import FloatArray

_SUREST: Final[float] = 1e-6
"""Scores are taken to be no surer than this before their odds are taken."""
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
        odds = self.slope * float(logit(min(max(score, _SUREST), 1.0 - _SUREST)))
        return min(max(float(expit(odds)), 1.0 - self.surest_absent), self.surest_present)

    def chances(self, scores: FloatArray) -> FloatArray:
        """The same of many, an array of the same shape; NaN stays NaN."""
        odds = self.slope * logit(np.clip(scores, _SUREST, 1.0 - _SUREST))
        return np.clip(expit(odds), 1.0 - self.surest_absent, self.surest_present)


UNCALIBRATED: Final = LogisticCalibration(1.0)
"""Of the rules where nothing was learnt: the score itself, never surer than :data:`SUREST`."""
