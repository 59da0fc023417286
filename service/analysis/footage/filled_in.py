"""Frames that were filled in when a film was slowed: shown again, or put between two others.

A body that is filmed is never quite where it was, nor in the middle between where it was and where
it will be. Where that holds of its joints together, far better than in the frames about it, nobody
filmed the frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate
from typing import Final

import numpy as np

from service.analysis.pose.geometry import distance, midpoint
from service.analysis.pose.points import Point
from service.analysis.pose.rows import row_median
from service.analysis.types import BoolArray, FloatArray

_JOINTS: Final = ("SHOULDER", "ELBOW", "WRIST", "HIP", "KNEE")
_BOTH: Final = np.array(
    [[Point[f"{side}_{joint}"] for joint in _JOINTS] for side in ("LEAD", "TRAIL")]
)
"""Both sides count together, as an estimator may exchange them."""
_NEAR: Final[int] = 3
"""Frames about each that it is held against: a film at a quarter of its speed has three of four
filled in."""
_STANDS_OUT: Final[float] = 0.15
"""Share of the largest of their distances from the middle that a frame filled in has at most."""


def filled_in(clips: Sequence[tuple[FloatArray, int, int]]) -> list[BoolArray]:
    """Which frames of some clips, from one up to another, were filled in.

    Parameters
    ----------
    clips : of each its points, shape (n_frames, n_points, 2), and those two frames
        As they were sent, any unit.

    Returns
    -------
    of each an array of shape (last - first,)
    """
    if not clips:
        return []
    begins = [max(first - _NEAR - 1, 0) for _, first, _ in clips]
    parts = [
        points[begin : last + _NEAR + 1].take(_BOTH, axis=1)
        for begin, (points, _, last) in zip(begins, clips, strict=True)
    ]
    filled = _filled_in(midpoint(*np.moveaxis(_end_to_end(parts), 1, 0)))
    starts = accumulate((len(part) + _NEAR for part in parts[:-1]), initial=_NEAR)
    return [
        filled[start + first - begin : start + last - begin]
        for start, begin, (_, first, last) in zip(starts, begins, clips, strict=True)
    ]


def _end_to_end(parts: Sequence[FloatArray]) -> FloatArray:
    """Parts of clips one behind the other, so many frames of nothing before, between and behind
    them that none is held against another's."""
    nothing = np.full((_NEAR, *_BOTH.shape, 2), np.nan)
    return np.concatenate([nothing, *(each for part in parts for each in (part, nothing))])


def _filled_in(body: FloatArray) -> BoolArray:
    """Which of some frames were filled in, shape (n_frames,); of the first and last few none is
    told. ``body`` has shape (n_frames, n_joints, 2)."""
    apart, again = np.zeros(len(body)), np.zeros(len(body), dtype=bool)
    told = row_median(distance(body[1:-1], midpoint(body[:-2], body[2:])))
    apart[1:-1] = np.where(np.isnan(told), 0.0, told)
    again[1:] = row_median(distance(body[1:], body[:-1])) == 0.0
    own = slice(_NEAR, -_NEAR)
    near = 2 * _NEAR + 1
    about = np.maximum.reduce([apart[k : len(apart) - near + 1 + k] for k in range(near)])
    again[own] |= apart[own] < _STANDS_OUT * about
    return again
