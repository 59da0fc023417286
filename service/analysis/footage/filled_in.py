"""Frames that were filled in when a film was slowed: shown again, or put between two others.

A body that is filmed is never quite where it was, nor in the middle between where it was and where
it will be. Where that holds of its joints together, far better than in the frames about it, nobody
filmed the frame.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.geometry import distance, midpoint
from service.analysis.pose.points import Point
from service.analysis.pose.rows import row_median
from service.analysis.types import BoolArray, FloatArray

_JOINTS: Final = ("SHOULDER", "ELBOW", "WRIST", "HIP", "KNEE")
_LEAD, _TRAIL = np.array(
    [[Point[f"{side}_{joint}"] for joint in _JOINTS] for side in ("LEAD", "TRAIL")]
)
"""Both sides count together, as an estimator may exchange them."""
_NEAR: Final[int] = 3
"""Frames about each that it is held against: a film at a quarter of its speed has three of four
filled in."""
_STANDS_OUT: Final[float] = 0.15
"""Share of the largest of their distances from the middle that a frame filled in has at most."""


def filled_in(points: FloatArray, first: int, last: int) -> BoolArray:
    """Which of the frames from one up to another were filled in, shape (last - first,).

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        As they were sent, any unit; three frames at least.
    """
    begin = max(first - _NEAR - 1, 0)
    shown = points[begin : last + _NEAR + 1]
    body = midpoint(shown.take(_LEAD, axis=1), shown.take(_TRAIL, axis=1))
    apart, again = np.zeros(len(body) + 2 * _NEAR), np.zeros(len(body), dtype=bool)
    own = apart[_NEAR:-_NEAR]
    told = row_median(distance(body[1:-1], midpoint(body[:-2], body[2:])))
    own[1:-1] = np.where(np.isnan(told), 0.0, told)
    again[1:] = row_median(distance(body[1:], body[:-1])) == 0.0
    about = np.maximum.reduce([apart[k : k + len(own)] for k in range(2 * _NEAR + 1)])
    filled = again | (own < _STANDS_OUT * about)
    return np.asarray(filled[first - begin : last - begin])
