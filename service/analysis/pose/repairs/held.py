"""Joints that a source lost and goes on showing where it saw them last.

A hand that is at rest, at the top of the backswing say, sets off slowly. One that does not move at
all, while the other doesn't either, and is elsewhere in the next frame has gone the way meanwhile.
Nor does a joint stay in its very place while the one that it is held to goes far, or go along a
straight line by the same way in every frame while the shoulders don't.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, pairwise
from typing import Final

import numpy as np

from service.analysis.pose.geometry import distance, midpoint
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
_LEFT_BEHIND: Final[tuple[tuple[str, str, float], ...]] = (
    ("LEAD_WRIST", "TRAIL_WRIST", 0.15),
    ("TRAIL_WRIST", "LEAD_WRIST", 0.15),
    ("LEAD_ELBOW", "LEAD_WRIST", 0.2),
    ("TRAIL_ELBOW", "TRAIL_WRIST", 0.2),
    ("LEAD_KNEE", "LEAD_HIP", 0.04),
    ("TRAIL_KNEE", "TRAIL_HIP", 0.04),
)
"""Joints, what each is held to, and the body heights that this goes while the joint stays, from
which it was lost. Of real swings annotated frame by frame it goes by 0.05 at most while a wrist
stays, 0.19 an elbow, 0.02 a knee; in what an estimator saw none stays. Where annotators filled in
what is hidden it is up to 0.45, 0.47 and 0.16."""
_PUT_BETWEEN: Final[int] = 4
"""Frames on end in the very middle of the ones beside them from which a joint was put between two
places: of 149 annotated and estimated swings no wrist or elbow lies so in more than three."""
_ARMS: Final = [Point.LEAD_WRIST, Point.TRAIL_WRIST, Point.LEAD_ELBOW, Point.TRAIL_ELBOW]
_SHOULDERS: Final = [Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER]
_LOST: Final = [Point[joint] for joint, *_ in _LEFT_BEHIND]
_HELD_TO: Final = [Point[other] for _, other, _ in _LEFT_BEHIND]


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


def left_behind(points: FloatArray, scale: float) -> BoolArray | None:
    """Which joints stay in their very place while what they are held to goes far, after the frame
    in which they were last seen.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        As they were sent, NaN where missing.
    scale : float
        The player's height in their unit.

    Returns
    -------
    array of shape (n_frames, n_points), or None where no joint does
    """
    joints = points.take(_LOST, axis=1)
    stays = distance(joints[1:], joints[:-1]) <= _SAME * scale
    if not stays.any():
        return None
    others = points.take(_HELD_TO, axis=1)
    told = np.zeros(points.shape[:2], dtype=bool)
    for joint, (*_, far) in enumerate(_LEFT_BEHIND):
        turns = np.flatnonzero(np.diff(stays[:, joint], prepend=False, append=False))
        for first, end in turns.reshape(-1, 2).tolist():
            own = others[first : end + 1, joint]
            if np.fmax.reduce(distance(own, own[:1])) > far * scale:
                told[first + 1 : end + 1, _LOST[joint]] = True
    return told if told.any() else None


def put_between(points: FloatArray, scale: float) -> BoolArray | None:
    """Which joints of the arms were put on a straight line between two places, as libraries fill
    gaps; of a film that was slowed so all joints are, and none is told.

    Parameters and what it returns are those of :func:`left_behind`.
    """
    joints = points.take([*_ARMS, *_SHOULDERS], axis=1)
    if len(joints) < _PUT_BETWEEN + 2:
        return None
    off = distance(joints[1:-1], midpoint(joints[:-2], joints[2:])) <= _SAME * scale
    if not off.any():
        return None
    goes = distance(joints[2:], joints[:-2]) > _SAME * scale
    between = off & goes & ~off[:, len(_ARMS) :].any(axis=1, keepdims=True)
    if not between.any():
        return None
    told = np.zeros(points.shape[:2], dtype=bool)
    for joint, own in zip(_ARMS, between.T, strict=False):
        turns = np.flatnonzero(np.diff(own, prepend=False, append=False))
        for first, end in turns.reshape(-1, 2).tolist():
            if end - first >= _PUT_BETWEEN:
                told[first + 1 : end + 1, joint] = True
    return told if told.any() else None
