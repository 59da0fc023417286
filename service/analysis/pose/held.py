"""Hands that an estimator lost and goes on showing where it saw them last.

A hand that is at rest, at the top of the backswing say, sets off slowly. One that does not move at
all, while the other doesn't either, and is elsewhere in the next frame has gone the way meanwhile.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, pairwise
from typing import Final

import numpy as np

from service.analysis.pose.geometry import distance
from service.analysis.pose.points import CLUB_POINTS, Point
from service.analysis.types import BoolArray, FloatArray

_WRISTS: Final = [Point.LEAD_WRIST, Point.TRAIL_WRIST]
_HANDS: Final = [p for p in Point if any(n in p.name for n in ("ELBOW", "WRIST", "HAND"))] + [
    Point[name.upper()] for name in CLUB_POINTS
]
_SHORTEST: Final[int] = 2
"""Frames that show the hands where the one before has them."""
_LEAP: Final[float] = 0.12
"""Body heights that hands leap after it. Of 149 annotated and estimated swings, in which joints
often stay for some frames, none leaps farther than 0.10 after both wrists have stayed; held for six
frames from the top or four from P5, five in six do."""
_STANDS_OUT: Final[float] = 1.2
"""How many times as far as in the frame after it."""
_SAME: Final[float] = 1e-6
"""Body heights; a place that is told again."""


def held(clips: Sequence[tuple[FloatArray, float]]) -> list[BoolArray | None]:
    """Which points of each clip are shown where they were last seen, after that frame.

    Parameters
    ----------
    clips
        Of each its points, shape (n_frames, n_points, 2), NaN where missing; and the player's
        height in their unit.

    Returns
    -------
    of each an array of shape (n_frames, n_points), or None where no hands stay for so long
    """
    wrists = np.concatenate([points.take(_WRISTS, axis=1) for points, _ in clips])
    steps = distance(wrists[1:], wrists[:-1])
    step = np.maximum(steps[:, 0], steps[:, 1])
    spans = pairwise(accumulate((len(points) for points, _ in clips), initial=0))
    parts = [step[a : b - 1] / scale for (a, b), (_, scale) in zip(spans, clips, strict=True)]
    return [_held(points, scale, own) for (points, scale), own in zip(clips, parts, strict=True)]


def _held(points: FloatArray, scale: float, step: FloatArray) -> BoolArray | None:
    """What :func:`held` tells of one clip; ``step``, shape (n_frames - 1,), is how far the hand
    that goes farther does in each, body heights."""
    stays = step <= _SAME
    if not (stays[1:] & stays[:-1]).any():
        return None
    told = np.zeros(points.shape[:2], dtype=bool)
    turns = np.flatnonzero(np.diff(stays, prepend=False, append=False))
    for first, end in turns.reshape(-1, 2).tolist():
        if end - first < _SHORTEST or end + 1 >= len(step):
            continue
        if step[end] > max(_LEAP, _STANDS_OUT * step[end + 1]) and step[end + 1] > _SAME:
            rest = points[first : end + 1].take(_HANDS, axis=1)
            still = distance(rest, rest[:1]).max(axis=0) <= _SAME * scale
            told[first + 1 : end + 1, [p for p, s in zip(_HANDS, still, strict=True) if s]] = True
    return told
