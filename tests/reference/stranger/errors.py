"""Errors like those of a pose estimator: drifting and jittering, larger where a joint is hidden.

All sizes are judgements of what estimators do on golf swings, not fits to any.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.signal import lfilter

from service.analysis.pose.points import CLUB_POINTS, Point
from service.analysis.types import BoolArray, FloatArray, View

_SIZES: Final = {
    "nose": 0.4, "eye": 0.4, "ear": 0.5, "shoulder": 0.7, "elbow": 0.9, "wrist": 0.9, "hand": 1.1,
    "hip": 0.9, "knee": 0.65, "ankle": 0.5, "heel": 0.7, "toe": 0.7, "grip": 0.5, "shaft_mid": 0.6,
    "clubhead": 0.8,
}  # fmt: skip
"""Percent of stature by which a joint that is seen is off, one standard deviation on one axis."""
_DRIFTING, _JITTERING, _STEADY = 0.75, 0.55, 0.45
"""Shares of that: slowly, from frame to frame, and all through the clip."""
_DRIFT_TIME: Final = 0.10
"""Seconds in which it drifts."""
_FAST: Final = 60.0
"""Frames a second above which jitter is less, as frames are alike."""
_HIDDEN_MORE: Final = 2.2
"""How much larger an error is where a joint is wholly hidden."""
_BLUR: Final = 0.04
"""Share of the way from one frame to the next by which a body joint in motion is off."""
_MOST_LAG: Final = 0.012
"""Seconds by which an arm may follow late, as an estimator that tracks smooths."""
_GAP_SHARE: Final = 0.25
_GAPS: Final = (0.03, 0.12)
"""How often a point of a clip with gaps has one, and its length in seconds."""
_SMEARED: Final = 0.1
_SMEARED_SHARE: Final = 0.3
_SLOW_RATE: Final = 60.0
"""Statures a frame from which a clubhead is smeared, how often it is then not told, and up to how
many frames a second."""

_SURE: Final = (0.95, 0.5, 0.05, 0.03)
"""Confidence at best, less where wholly hidden, less a unit of size, and its jitter."""

# How hidden (0 to 1) a joint is and between which positions: (joints, on the lead side, from, to).
_Hidden = tuple[tuple[str, ...], bool, float, float, float]
_ARM: Final = ("elbow", "wrist", "hand")
_HIDDEN: Final[dict[View, tuple[_Hidden, ...]]] = {
    View.FACE_ON: (
        (_ARM, False, 2.7, 4.9, 0.6),
        (_ARM, False, 8.8, 11.0, 0.5),
        (("elbow",), True, 9.3, 11.0, 0.4),
    ),
    View.DOWN_THE_LINE: (
        (("elbow",), True, 0.0, 2.6, 0.8),
        (("elbow",), True, 2.6, 5.4, 0.5),
        (("elbow",), True, 5.4, 7.8, 0.7),
        (("wrist", "hand"), True, 0.0, 8.0, 0.4),
        (("hip", "knee", "ankle", "heel", "toe"), True, 0.0, 11.0, 0.35),
        (("shoulder",), True, 0.0, 5.0, 0.4),
        (("eye", "ear"), True, 0.0, 11.0, 0.7),
        (_ARM, False, 8.5, 11.0, 0.6),
    ),
}


def spoil(
    seen: FloatArray,
    frames: tuple[FloatArray, FloatArray],
    view: View,
    quality: tuple[float, bool],
    rng: np.random.Generator,
) -> tuple[FloatArray, FloatArray]:
    """Image points as an estimator tells them, and its confidence.

    Parameters
    ----------
    seen : array of shape (n_frames, N_POINTS, 2)
        True image points in canonical order, statures.
    frames
        Times and position coordinates of the frames, (n_frames,) each.
    quality
        Size of the errors, 1 being those named above, and whether points are lost for a while.

    Returns
    -------
    points of the shape of ``seen`` and confidence of shape (n_frames, N_POINTS)
    """
    (times, coordinate), (size, gaps) = frames, quality
    rate = (len(times) - 1) / (times[-1] - times[0])
    points, confidence = np.full(seen.shape, np.nan), np.zeros(seen.shape[:2])
    for point in Point:
        if not np.isfinite(seen[:, point]).all() or _joint(point) not in _SIZES:
            continue
        hidden = _hidden(point, view, coordinate)
        told = _late(seen[:, point], times, point, size, rng)
        step = np.linalg.norm(np.gradient(seen[:, point], axis=0), axis=-1)
        off = 0.01 * size * _SIZES[_joint(point)] * (1.0 + _HIDDEN_MORE * hidden)
        off += 0.0 if _of_club(point) else _BLUR * size * step
        points[:, point] = told + off[:, None] * _noise(rng, len(times), rate)
        confidence[:, point] = _confidence(rng, hidden, size)
        lost = _lost(rng, len(times), rate) if gaps else np.zeros(len(times), dtype=bool)
        lost |= _smeared(rng, point, step, rate)
        points[lost, point], confidence[lost, point] = np.nan, 0.0
    return points, confidence


def _joint(point: Point) -> str:
    return point.name.lower().removeprefix("lead_").removeprefix("trail_")


def _of_club(point: Point) -> bool:
    return point.name.lower() in CLUB_POINTS


def _hidden(point: Point, view: View, coordinate: FloatArray) -> FloatArray:
    """How hidden a joint is at position coordinates (n,)."""
    told = np.zeros(len(coordinate))
    for joints, leading, first, last, share in _HIDDEN[view]:
        if _joint(point) in joints and point.name.startswith("LEAD") is leading:
            within = (coordinate > first) & (coordinate <= last)
            told = np.maximum(told, share * within)
    return told


def _late(
    path: FloatArray, times: FloatArray, point: Point, size: float, rng: np.random.Generator
) -> FloatArray:
    if _joint(point) not in _ARM:
        return path
    past = times - size * float(rng.uniform(0.0, _MOST_LAG))
    return np.stack([np.interp(past, times, axis) for axis in path.T], axis=1)


def _noise(rng: np.random.Generator, count: int, rate: float) -> FloatArray:
    """Errors of size 1 of one point, (count, 2)."""
    kept = np.exp(-1.0 / (rate * _DRIFT_TIME))
    fresh = rng.standard_normal((count, 2))
    fresh[1:] *= np.sqrt(1.0 - kept**2)
    drift = lfilter([1.0], [1.0, -kept], fresh, axis=0)
    jitter = min(1.0, np.sqrt(_FAST / rate)) * rng.standard_normal((count, 2))
    return np.asarray(_DRIFTING * drift + _JITTERING * jitter + _STEADY * rng.standard_normal(2))


def _lost(rng: np.random.Generator, count: int, rate: float) -> BoolArray:
    lost = np.zeros(count, dtype=bool)
    if rng.random() < _GAP_SHARE:
        first = int(rng.integers(count))
        lost[first : first + max(1, round(rate * float(rng.uniform(*_GAPS))))] = True
    return lost


def _smeared(rng: np.random.Generator, point: Point, step: FloatArray, rate: float) -> BoolArray:
    """Where a fast clubhead is not told."""
    if point is not Point.CLUBHEAD or rate > _SLOW_RATE:
        return np.zeros(len(step), dtype=bool)
    return np.asarray((step > _SMEARED) & (rng.random(len(step)) < _SMEARED_SHARE))


def _confidence(rng: np.random.Generator, hidden: FloatArray, size: float) -> FloatArray:
    """What an estimator says of itself, (n,): less of what is hidden and where it errs more."""
    told = _SURE[0] - _SURE[1] * hidden - _SURE[2] * size
    return np.clip(told + _SURE[3] * rng.standard_normal(len(hidden)), 0.05, 1.0)
