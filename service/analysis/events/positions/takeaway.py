"""P1: where the takeaway begins."""

from __future__ import annotations

from math import hypot, isnan
from typing import Final

import numpy as np

from service.analysis.events.level_crossings import last_upcrossing
from service.analysis.events.positions.onsets import (
    last_still,
    leaving_time,
    mean_place,
    rest_needed,
)
from service.analysis.events.positions.scene import Found, Scene
from service.analysis.pose.geometry import distance
from service.analysis.types import BoolArray, FloatArray, View

_QUIET: Final[float] = 0.10
"""Share of its peak speed below which a movement counts as at rest; judgement."""
_QUIET_FLOOR: Final[float] = 0.08
"""Body heights a second below which hands are at rest whatever their peak; judgement."""
_GONE: Final[float] = 0.06
"""Body heights from address at which the hands are no longer at rest there; judgement."""
_ADDRESS_TO_IMPACT: Final[float] = 0.20
"""Body heights between the hands at address and at impact, at most; common practice."""
_LEAST_REST: Final[float] = 0.10
"""Seconds of rest that must be seen before a takeaway for its start to count as observed;
judgement."""
_UNSEEN_REST: Final[float] = 0.15
"""Uncertainty in seconds of a takeaway whose start may lie before the clip; judgement."""
_WELL_AWAY: Final[float] = 0.16
_CLUB_AWAY: Final[float] = 0.25
"""Body heights of hands and clubhead from their place at address up to which a takeaway is
looked at; judgement."""
_START_SPREAD: Final[dict[View, float]] = {View.FACE_ON: 0.06, View.DOWN_THE_LINE: 0.08}
"""Uncertainty of the start as a share of the backswing, where no rule says more; judgement."""


def find_takeaway(scene: Scene, top: float) -> Found | None:
    """Where the hands leave address for good; ``None`` if the clip starts in motion."""
    tracks = scene.tracks
    last = len(tracks.times) - 1  # across a gap in the film the top can come out beyond its end
    top_frame = min(max(int(np.searchsorted(tracks.times, top)), scene.swing.start), last)
    hang = _last_rest(scene, top)
    if hang is None:
        return None
    rest = last_still(scene.points, tracks, hang, top)
    clock, path = tracks.times, tracks.path
    begin = int(clock.searchsorted(clock[rest] - rest_needed(top - clock[rest])))
    starts = [
        leaving_time(clock, way, begin, rest, _well_away(clock, way, begin, rest, top_frame, far))
        for way, far in ((path, _WELL_AWAY), (scene.clubhead, _CLUB_AWAY))
        if way is not None
    ]
    if isnan(starts[0]):
        return None
    start = min(each for each in starts if not isnan(each))
    still = slice(clock.searchsorted(start - _LEAST_REST), clock.searchsorted(start, side="right"))
    gone = distance(path[still], mean_place(path, begin, rest))
    if start - clock[0] < _LEAST_REST or (gone > _GONE).any():
        # No rest is seen before it: the takeaway may well have begun before the clip.
        return Found(max(start, float(clock[0])), _UNSEEN_REST, inferred=True)
    spread = _START_SPREAD[scene.view] * (top - start)
    return Found(start, hypot(0.5 * scene.frame, spread))


def _well_away(
    clock: FloatArray, path: FloatArray, begin: int, rest: int, top: int, far: float
) -> float:
    """When a path is last seen nearer than ``far`` to its place at address, NaN if never."""
    part = slice(begin, top + 1)
    clock, away = clock[part], distance(path[part], mean_place(path, begin, rest))
    seen = ~np.isnan(away)
    return float(last_upcrossing(clock[seen], away[seen], np.array([far]))[0])


def _last_rest(scene: Scene, top: float) -> int | None:
    """Last frame before the top at which the hands rest at address."""
    tracks = scene.tracks
    top_frame = max(int(np.searchsorted(tracks.times, top)), scene.swing.start)
    speeds = tracks.speed[scene.swing.start : top_frame + 1]
    fastest = float(np.fmax.reduce(speeds))
    if isnan(fastest):
        return None
    slow = tracks.speed[:top_frame] < max(_QUIET * fastest, _QUIET_FLOOR)
    resting = (slow & _hands_hang(scene, top_frame)).nonzero()[0]
    return int(resting[-1]) if resting.size else None


def _hands_hang(scene: Scene, before: int) -> BoolArray:
    """Frames before another in which the hands are low and about where they pass the ball, shape
    (before,)."""
    tracks, swing = scene.tracks, scene.swing
    low = swing.start if swing.low is None else swing.low
    path = tracks.path
    reach = tracks.height[low] + 0.35 * (tracks.height[swing.top] - tracks.height[low])
    near = distance(path[:before], path[low]) <= _ADDRESS_TO_IMPACT
    return np.asarray((tracks.height[:before] <= reach) & near)
