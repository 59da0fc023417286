"""How sure a rule's score makes: learnt from clips of sources that no estimator was fitted on."""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.optimize import minimize_scalar

from service.analysis.judging.calibration import SUREST, LogisticCalibration
from service.analysis.types import BoolArray, FloatArray

_SLOPES: Final[tuple[float, float]] = (0.3, 3.0)
"""The least and the greatest slope that is looked for."""
_PRIOR: Final[float] = 20.0
"""Clips' worth of doubt that a slope is other than 1."""
_SURE: Final[float] = 0.95
"""Confidence from which clips count toward the highest that is supported."""
_LEAST_SURE: Final[float] = 0.80
"""The highest confidence that is allowed where clips support no more; judgement."""
_UNBOUND: Final[float] = 0.9999
"""As good as no highest confidence, while the slope is fitted."""


def calibrate(scores: FloatArray, present: BoolArray) -> LogisticCalibration:
    """Slope of least log loss, and the highest confidence that the clips support on either side.

    The highest confidence is the share right among those told at least 0.95 sure, less what one
    more mistake would make of it (the rule of succession): 100 right of 100 support 0.99.

    Parameters
    ----------
    scores : array of shape (n,)
    present : boolean array of shape (n,)
    """
    if len(scores) == 0:
        return LogisticCalibration(1.0, _LEAST_SURE, _LEAST_SURE)

    def loss(slope: float) -> float:
        chance = np.clip(
            LogisticCalibration(slope, _UNBOUND, _UNBOUND).chances(scores), 1e-4, 1 - 1e-4
        )
        missed = -np.log(np.where(present, chance, 1.0 - chance)).sum()
        return float(missed + _PRIOR * np.log(slope) ** 2)

    slope = float(minimize_scalar(loss, bounds=_SLOPES, method="bounded").x)
    chance = LogisticCalibration(slope, _UNBOUND, _UNBOUND).chances(scores)
    return LogisticCalibration(
        round(slope, 4),
        _supported(~present[chance <= 1.0 - _SURE]),
        _supported(present[chance >= _SURE]),
    )


def _supported(right: BoolArray) -> float:
    """The confidence that so many right of so many support."""
    share = (int(right.sum()) + 1) / (len(right) + 2)
    return round(float(np.clip(share, _LEAST_SURE, SUREST)), 4)
