"""Simulated swings for the tests."""

from __future__ import annotations

import dataclasses
from functools import lru_cache

import numpy as np

from service.analysis.judging.weighing import DECISIVE
from service.analysis.pose.points import Point
from service.analysis.types import Finding, SwingAnalysis, SwingRecording, View
from training.simulator import (
    Camera,
    EstimatorNoise,
    FaultAmounts,
    Golfer,
    SwingMotion,
    film,
    random_camera,
    random_swing,
    swing_motion,
)

FEET = (
    Point.LEAD_HEEL,
    Point.TRAIL_HEEL,
    Point.LEAD_TOE,
    Point.TRAIL_TOE,
    Point.LEAD_SMALL_TOE,
    Point.TRAIL_SMALL_TOE,
)
CLUB = (Point.GRIP_END, Point.GRIP, Point.SHAFT_MID, Point.CLUBHEAD)


def clip(
    view: View = View.FACE_ON,
    *,
    amounts: FaultAmounts | None = None,
    golfer: Golfer | None = None,
    fps: float = 120.0,
    **motion: object,
) -> tuple[SwingMotion, SwingRecording]:
    """A swing of the usual golfer and its clip, without noise; the same to all that ask for it."""
    return _clip(view, amounts, golfer or Golfer(), fps, tuple(motion.items()))


@lru_cache(maxsize=128)
def _clip(
    view: View,
    amounts: FaultAmounts | None,
    golfer: Golfer,
    fps: float,
    motion: tuple[tuple[str, object], ...],
) -> tuple[SwingMotion, SwingRecording]:
    swing = swing_motion(golfer, amounts, **dict(motion))
    return swing, _for_all(film(swing, Camera.standing(view), fps=fps))


def _for_all(recording: SwingRecording) -> SwingRecording:
    """What several tests are given, so that none may change it."""
    for shared in (recording.points, recording.confidence, recording.times):
        shared.setflags(write=False)
    return recording


@lru_cache(maxsize=128)
def random_clip(seed: int, view: View, *, fps: float = 120.0) -> tuple[SwingMotion, SwingRecording]:
    """A sound swing of some golfer as a good estimator sees it; the same to all that ask for it."""
    rng = np.random.default_rng(seed)
    swing = random_swing(rng)
    recording = film(swing, random_camera(rng, view), fps=fps, noise=EstimatorNoise(), rng=rng)
    return swing, _for_all(recording)


def without(recording: SwingRecording, points: tuple[Point, ...]) -> SwingRecording:
    """The same clip with some points never seen."""
    values, confidence = recording.points.copy(), recording.confidence.copy()
    values[:, points], confidence[:, points] = np.nan, 0.0
    return dataclasses.replace(recording, points=values, confidence=confidence)


def cut(recording: SwingRecording, first: float, last: float) -> SwingRecording:
    """The part of a clip between two times, its clock started anew."""
    keep = (recording.times >= first) & (recording.times <= last)
    times = recording.times[keep]
    return dataclasses.replace(
        recording,
        points=recording.points[keep],
        confidence=recording.confidence[keep],
        times=times - times[0],
    )


def paced(recording: SwingRecording, pace: np.ndarray) -> SwingRecording:
    """The same clip at its old rate, each frame shown so many times as long; shape (n_frames,)."""
    played = np.concatenate([[0.0], np.cumsum(pace[:-1])])
    at = np.interp(np.arange(played[-1]), played, np.arange(len(played)))
    frames, after = at.astype(int), np.minimum(at.astype(int) + 1, len(played) - 1)
    share = (at - frames)[:, None, None]
    return dataclasses.replace(
        recording,
        points=(1 - share) * recording.points[frames] + share * recording.points[after],
        confidence=recording.confidence[frames],
        times=np.arange(len(at)) * np.median(np.diff(recording.times)),
    )


def finding(analysis: SwingAnalysis, fault: str) -> Finding:
    """The finding about one fault."""
    return next(f for f in analysis.findings if f.fault == fault)


def statuses(analysis: SwingAnalysis) -> dict[str, str]:
    """Status of every fault."""
    return {f.fault: f.status.value for f in analysis.findings}


def same_verdicts(first: SwingAnalysis, second: SwingAnalysis) -> bool:
    """Same status of every fault, but for what lies so near the limit of what a vague measure may
    still tell that rounding tips it."""
    pairs = zip(first.findings, second.findings, strict=True)
    return all(a.status is b.status or _tipped(a, b) or _tipped(b, a) for a, b in pairs)


def _tipped(told: Finding, left_open: Finding) -> bool:
    if told.score is None or left_open.reason is None or left_open.reason.code != "too_uncertain":
        return False
    return min(abs(told.score - limit) for limit in DECISIVE) < 0.01


def frames(analysis: SwingAnalysis) -> np.ndarray:
    """Frames of P1 to P10, NaN where not found, shape (10,)."""
    return np.array([np.nan if p.frame is None else p.frame for p in analysis.positions])
