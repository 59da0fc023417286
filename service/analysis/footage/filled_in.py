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
    starts = list(accumulate((len(part) + _NEAR for part in parts), initial=_NEAR))
    spans = [slice(start, start + len(part)) for start, part in zip(starts, parts, strict=False)]
    joints = np.zeros((starts[-1], *_BOTH.shape, 2))
    for span, part in zip(spans, parts, strict=True):
        joints[span] = part
    filled = _filled_in(midpoint(joints[:, 0], joints[:, 1]), spans)
    return [
        filled[span.start + first - begin : span.start + last - begin]
        for span, begin, (_, first, last) in zip(spans, begins, clips, strict=True)
    ]


def _filled_in(body: FloatArray, spans: Sequence[slice]) -> BoolArray:
    """Which frames of some clips were filled in, shape (n_frames,).

    Parameters
    ----------
    body : array of shape (n_frames, n_joints, 2)
        The clips one behind the other, so far apart that none is held against another's.
    spans : the frames of each
    """
    between, later = (np.zeros(len(body), dtype=bool) for _ in range(2))
    for span in spans:
        between[span.start + 1 : span.stop - 1] = later[span.start + 1 : span.stop] = True
    told = row_median(distance(body[1:-1], midpoint(body[:-2], body[2:])))
    apart = np.zeros(len(body))
    apart[1:-1] = np.where(between[1:-1] & ~np.isnan(told), told, 0.0)
    filled = np.zeros(len(body), dtype=bool)
    filled[1:] = later[1:] & (row_median(distance(body[1:], body[:-1])) == 0.0)
    own, near = slice(_NEAR, -_NEAR), 2 * _NEAR + 1
    about = np.maximum.reduce([apart[k : len(apart) - near + 1 + k] for k in range(near)])
    filled[own] |= apart[own] < _STANDS_OUT * about
    return filled
