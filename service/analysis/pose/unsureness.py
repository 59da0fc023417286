"""How much farther off a point is where its confidence says so, and the other way about."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.types import FloatArray

SURE_FROM: Final[float] = 0.95
"""Confidence from which a point is sure."""
_GROWTH: Final[float] = 3.0
"""Growth of a point's error for each unit of confidence short of that: once the annotators' share
is taken off, elbows and wrists of confidence 0.6 are off about twice as far as those above 0.97."""
_MOST: Final[float] = 2.6


def unsureness(confidence: FloatArray) -> FloatArray:
    """How many times as far off as one that is sure a point of some confidence is; same shape.

    >>> unsureness(np.array([1.0, 0.7, 0.2])).round(2).tolist()
    [1.0, 1.75, 2.6]
    """
    grown = 1.0 + _GROWTH * (SURE_FROM - confidence)
    return np.minimum(np.maximum(grown, 1.0), _MOST)


def confidence_at(unsure: FloatArray) -> FloatArray:
    """The confidence of a point that is so many times as far off, same shape; NaN where none says
    as much.

    >>> confidence_at(np.array([1.0, 1.75, 3.0])).round(2).tolist()
    [0.95, 0.7, nan]
    """
    told = SURE_FROM - (np.maximum(unsure, 1.0) - 1.0) / _GROWTH
    return np.where(unsure <= _MOST, told, np.nan)
