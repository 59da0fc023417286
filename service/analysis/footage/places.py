"""Where points are at the start of a swing, and how far they have gone since."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.pose.rows import row_median
from service.analysis.types import FloatArray

_FRAMES: Final[int] = 5
"""Frames whose median tells a place."""


def apart_at_start(points: FloatArray, a: Point, b: Point) -> FloatArray:
    """From ``b`` to ``a`` in the first frames of the swing, shape (2,); NaN if not seen."""
    apart = points[:5, a] - points[:5, b]
    seen = apart[~np.isnan(apart).any(axis=1)]
    if not len(seen):
        return np.full(2, np.nan)
    seen.sort(axis=0)
    return np.asarray(0.5 * (seen[(len(seen) - 1) // 2] + seen[len(seen) // 2]))


def on_the_way(points: FloatArray, point: Point, last: int) -> FloatArray:
    """How far a point has gone by a frame since the first ones, shape (2,); NaN if not seen."""
    path = points[:, point].T
    return row_median(path[:, max(last - _FRAMES + 1, 0) : last + 1]) - row_median(
        path[:, :_FRAMES]
    )
