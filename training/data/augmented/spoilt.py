"""Clips whose points are worse than a simulated estimator makes them.

Of a hidden arm or leg, annotators and estimators guess the place and keep it wrong for long; now
and then a point is lost altogether, or the club is. What is learnt on such clips goes by what
several points show.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from service.analysis.pose.points import ANATOMICAL, CLUB_POINTS
from service.analysis.pose.stature import body_height
from service.analysis.types import BoolArray, FloatArray, SwingRecording

# How often and how far: judgement, wider than what any one source of real clips shows.
_ASTRAY: Final[float] = 0.6
"""Share of clips in which limbs go astray; of one to three limbs."""
_FAR: Final[tuple[float, float]] = (0.02, 0.2)
"""Body heights by which they do (one standard deviation), drawn evenly on a log scale."""
_TURNS: Final[tuple[float, float]] = (0.1, 0.6)
"""Seconds in which such an error changes."""
_UNSURE: Final[float] = 0.5
"""Confidence of what is guessed, in half of the cases; else it is told as if seen."""
_SHAKEN: Final[float] = 0.3
"""Share of clips in which every point jitters."""
_JITTER: Final[tuple[float, float]] = (0.003, 0.02)
"""Body heights, from frame to frame."""
_LOST: Final[float] = 0.06
"""Share of points that are never seen, in half of the clips."""
_NO_CLUB: Final[float] = 0.2
"""Share of clips in which the club is never seen."""
_LIMBS: Final[tuple[tuple[str, ...], ...]] = tuple(
    tuple(f"{side}_{joint}" for joint in joints)
    for side in ("left", "right")
    for joints in (
        ("elbow", "wrist", "hand"),
        ("wrist", "hand"),
        ("shoulder",),
        ("knee", "ankle"),
        ("hip",),
    )
)
_WHOLE: Final[frozenset[str]] = frozenset(
    f"{side}_{joint}" for side in ("left", "right") for joint in ("wrist", "hip", "shoulder")
)
"""Points that are not lost altogether: without them no swing is found."""


def spoilt(recording: SwingRecording, rng: np.random.Generator) -> SwingRecording:
    """The same clip, seen worse."""
    points, confidence = recording.points.copy(), recording.confidence.copy()
    scale = body_height(points)
    if rng.random() < _ASTRAY:
        for limb in rng.choice(len(_LIMBS), int(rng.integers(1, 4)), replace=False):
            joints = [ANATOMICAL.index(name) for name in _LIMBS[limb]]
            _lead_astray(points, confidence, joints, recording.times, scale, rng)
    if rng.random() < _SHAKEN:
        size = scale * np.exp(rng.uniform(*np.log(_JITTER)))
        points += size * rng.standard_normal(points.shape)
    lost = _lost(rng)
    points[:, lost], confidence[:, lost] = np.nan, 0.0
    return replace(recording, points=points, confidence=confidence)


def _lead_astray(
    points: FloatArray,
    confidence: FloatArray,
    joints: list[int],
    times: FloatArray,
    scale: float,
    rng: np.random.Generator,
) -> None:
    """Let joints of one limb go wrong together for a part of the clip, in place."""
    size = scale * np.exp(rng.uniform(*np.log(_FAR)))
    turns = np.exp(rng.uniform(*np.log(_TURNS)))
    knots = np.arange(times[0] - turns, times[-1] + 2 * turns, turns)
    begin, end = np.sort(rng.uniform(times[0] - 0.5, times[-1] + 0.5, 2))
    wrong = (times >= begin) & (times <= end)
    together = rng.standard_normal((knots.size, 2))
    for joint in joints:
        own = size * (0.8 * together + 0.6 * rng.standard_normal((knots.size, 2)))
        for axis in (0, 1):
            points[wrong, joint, axis] += np.interp(times[wrong], knots, own[:, axis])
    if rng.random() < 0.5:
        confidence[np.ix_(wrong, joints)] = np.minimum(confidence[np.ix_(wrong, joints)], _UNSURE)


def _lost(rng: np.random.Generator) -> BoolArray:
    """Which points are never seen, shape (N_POINTS,)."""
    share = _LOST if rng.random() < 0.5 else 0.0
    lost = rng.random(len(ANATOMICAL)) < share
    lost &= np.array([name not in _WHOLE for name in ANATOMICAL])
    if rng.random() < _NO_CLUB:
        lost |= np.isin(ANATOMICAL, CLUB_POINTS)
    return np.asarray(lost)
