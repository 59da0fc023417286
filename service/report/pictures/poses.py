"""A clip's poses made alike: lead and trail told apart, in body heights from the feet."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.points import Point, swap_sides
from service.analysis.pose.repairs.spikes import find_spikes
from service.analysis.pose.stature import body_height
from service.analysis.pose.timeline import Timeline
from service.analysis.types import FloatArray, Handedness, SwingAnalysis, View
from service.report.clip import Clip

_FEET: Final = (
    (Point.LEAD_ANKLE, Point.TRAIL_ANKLE),
    (Point.LEAD_HIP, Point.TRAIL_HIP),
)
"""What figures are laid over each other by: the ankles, or without them the hips."""
_FEWEST: Final[int] = 5
"""Frames in which a joint can leap away and back."""
_Pairs = tuple[tuple[tuple[Point, ...], tuple[Point, ...]], ...]
_SIDES: Final[_Pairs] = tuple(
    ((lead,), (trail,)) for lead, trail in (*_FEET, (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER))
)
_FORWARD_OF_HEELS: Final[_Pairs] = (
    ((Point.LEAD_TOE, Point.TRAIL_TOE), (Point.LEAD_HEEL, Point.TRAIL_HEEL)),
    ((Point.LEAD_WRIST, Point.TRAIL_WRIST), (Point.LEAD_ANKLE, Point.TRAIL_ANKLE)),
    ((Point.LEAD_WRIST, Point.TRAIL_WRIST), (Point.LEAD_HIP, Point.TRAIL_HIP)),
)
"""What lies nearer to the ball at address, and what lies behind it."""


class PositionNotShown(ValueError):
    """Raised when a swing doesn't show a position; the message is a sentence for the reader."""


def frame_of(analysis: SwingAnalysis, position: float) -> int:
    """The frame nearest to a position coordinate.

    Parameters
    ----------
    position
        From 1 to 10; 3.5 is halfway along the hands' path from P3 to P4.

    Raises
    ------
    PositionNotShown
        When the clip holds no swing, or not this position.
    """
    found = {p.number: p.frame for p in analysis.positions if p.frame is not None}
    if not found:
        raise PositionNotShown(
            analysis.reason.text if analysis.reason else "The clip holds no golf swing."
        )
    if position in found:
        return round(found[int(position)])
    missing = next((p for p in analysis.positions if p.number == position), None)
    if missing is not None and missing.reason is not None:
        raise PositionNotShown(f"{missing.name} was not found. {missing.reason.text}")
    if not min(found) <= position <= max(found) or np.isnan(analysis.coordinate).all():
        raise PositionNotShown(
            f"P{position:g} is not in the clip; it shows P{min(found)} to P{max(found)}."
        )
    return int(np.nanargmin(np.abs(analysis.coordinate - position)))


def about_the_feet(clip: Clip) -> FloatArray:
    """Poses in body heights from the feet at address, shape (n_frames, n_points, 2), y down; as
    :func:`sided_poses` has them."""
    feet, stature = feet_and_stature(clip)
    return np.asarray((sided_poses(clip) - feet) / stature)


def feet_and_stature(clip: Clip) -> tuple[FloatArray, float]:
    """Middle of the feet at address, shape (2,), and the body height, in the recording's unit."""
    return _feet(_sided(clip), clip.analysis), stature_of(clip)


def stature_of(clip: Clip) -> float:
    """The player's height in the recording's unit, told by the shot that was analysed."""
    return body_height(clip.recording.points[_shot(clip.analysis)])


def sided_poses(clip: Clip) -> FloatArray:
    """Poses as they were sent, of shape (n_frames, n_points, 2), lead and trail told apart.

    What leaves the path of its point for a frame or two and comes back is drawn on the way between
    its neighbours, as it was measured; a joint that is missing stays so.
    """
    sent, shot = _sided(clip), _shot(clip.analysis)
    times = clip.recording.times[shot]
    paths = np.ascontiguousarray(sent[shot].T)
    if len(times) <= _FEWEST:
        return sent
    leaps = find_spikes(paths, Timeline.of([times]), np.array([stature_of(clip)]))
    if not leaps.any():
        return sent
    for point in np.flatnonzero(leaps.any(axis=1)):
        gone = leaps[point]
        held = ~gone & ~np.isnan(paths[0, point])
        for path in paths[:, point]:
            path[gone] = np.interp(times[gone], times[held], path[held])
    poses = sent.copy()
    poses[shot] = paths.T
    return poses


def forward(clip: Clip) -> float:
    """The way along x in the picture, 1 or -1: to the target face-on, to the ball down the line."""
    early = _early(_sided(clip), clip.analysis)
    assert clip.analysis.view is not None  # a position was found
    pairs = _SIDES if clip.analysis.view.value is View.FACE_ON else _FORWARD_OF_HEELS
    for front, back in pairs:
        way = early[:, front, 0].mean(axis=1) - early[:, back, 0].mean(axis=1)
        if np.isfinite(way).any():
            return 1.0 if np.nanmedian(way) >= 0.0 else -1.0
    return 1.0


def _sided(clip: Clip) -> FloatArray:
    handedness = clip.analysis.handedness
    if handedness is not None and handedness.value is Handedness.LEFT:
        return swap_sides(clip.recording.points)
    return clip.recording.points


def _shot(analysis: SwingAnalysis) -> slice:
    """The frames of the shot that was analysed; of a film that was not cut, all."""
    told = np.flatnonzero(np.isfinite(analysis.coordinate))
    return slice(int(told[0]), int(told[-1]) + 1) if told.size else slice(None)


def _early(points: FloatArray, analysis: SwingAnalysis) -> FloatArray:
    """Poses up to P2, before the feet move."""
    return np.asarray(points[analysis.coordinate <= 2.0])


def _feet(points: FloatArray, analysis: SwingAnalysis) -> FloatArray:
    early = _early(points, analysis)
    for pair in _FEET:
        seen = early[:, pair].mean(axis=1)
        if np.isfinite(seen).any():
            return np.asarray(np.nanmedian(seen, axis=0))
    return np.asarray(np.nanmedian(points, axis=(0, 1)))
