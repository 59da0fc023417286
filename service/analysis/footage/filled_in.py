"""Frames that were filled in when a film was slowed: shown again, or put between two others.

A body that is filmed is never quite where it was, nor in the middle between where it was and where
it will be. Where that holds of its joints together, far better than in the frames about it, nobody
filmed the frame.
"""

from __future__ import annotations

from math import nan
from typing import Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from service.analysis.pose.geometry import distance, midpoint
from service.analysis.pose.points import Point
from service.analysis.pose.rows import row_median
from service.analysis.types import FloatArray

_JOINTS: Final = ("SHOULDER", "ELBOW", "WRIST", "HIP", "KNEE")
_LEAD, _TRAIL = ([Point[f"{side}_{joint}"] for joint in _JOINTS] for side in ("LEAD", "TRAIL"))
"""Both sides count together, as an estimator may exchange them."""
_NEAR: Final[int] = 3
"""Frames about each that it is held against: a film at a quarter of its speed has three of four
filled in."""
_STANDS_OUT: Final[float] = 0.15
"""Share of the largest of their distances from the middle that a frame filled in has at most."""


def share_filled_in(points: FloatArray, first: int, last: int) -> float:
    """Share of the frames from one to another that were filled in; NaN where too few.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        As they were sent, any unit.
    """
    begin = max(first - _NEAR - 1, 0)
    shown = points[begin : last + _NEAR + 1]
    if last - first < 2 or len(shown) < 3:
        return nan
    body = midpoint(shown.take(_LEAD, axis=1), shown.take(_TRAIL, axis=1))
    apart, again = np.zeros(len(body)), np.zeros(len(body), dtype=bool)
    apart[1:-1] = np.nan_to_num(row_median(distance(body[1:-1], midpoint(body[:-2], body[2:]))))
    again[1:] = row_median(distance(body[1:], body[:-1])) == 0.0
    about = sliding_window_view(np.pad(apart, _NEAR), 2 * _NEAR + 1).max(axis=1)
    filled = again | (apart < _STANDS_OUT * about)
    return float(np.mean(filled[first - begin : last - begin]))
