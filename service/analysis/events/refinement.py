"""Starts, turns and stops placed better than any one threshold can.

When a movement leaves rest, turns or comes to rest is hidden in the noise; what is well seen is
when it has gone a little, some more, and a lot. A linear rule over those *marks*, learnt
from simulated swings (``python -m training.models.fit_positions``), tells the moment from them.
It is learnt for each view and intent, since down the line much of the path lies along the line of
sight and a rehearsal starts and stops more gently. What moves across the picture is marked
beside the hands: down the line the line of the shoulders shows the takeaway before the hands do.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Final

import numpy as np

from service.analysis.events.detection import Downswing
from service.analysis.events.landmark_paths import Tracks
from service.analysis.events.level_crossings import last_time_above, last_upcrossing
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, Intent, View

REFINED: Final[tuple[int, ...]] = (4, 1, 10)
"""The positions so placed, in the order in which it is done."""
TABLE: Final[str] = "refinement.json"
_FAR: Final[float] = 20.0
"""No mark is taken to lie further off than this many units of the movement's time."""
_FARTHEST: Final[dict[int, float]] = {1: 1.0, 4: 2.0, 10: 3.0}
"""How far from where thresholds place it a position may be moved, in the same unit."""
_STEADY: Final[float] = 0.035
"""Seconds to either side over which a speed is taken."""
_AT_ADDRESS: Final[float] = 0.12
"""Seconds of rest whose mean is the place at address."""
_AT_FINISH: Final[float] = 0.1
"""Seconds of rest whose mean is the place at the finish."""
_LONGEST_TURN: Final[float] = 0.45
"""Seconds about the top within 0.04 body heights; a longer one is a pause of its own kind."""
_NEAR: Final[FloatArray] = np.array((0.01, 0.02, 0.04, 0.08, 0.16))
"""Distances from rest in body heights; the fourth is the reference."""
_CLUB_NEAR: Final[FloatArray] = np.array((0.03, 0.06, 0.12, 0.25))
_SPEEDS_UP: Final[FloatArray] = np.array((0.05, 0.1, 0.2, 0.4))
_FALLS: Final[FloatArray] = np.array((0.01, 0.02, 0.04, 0.08, 0.16, 0.3))
_SPEEDS_DOWN: Final[FloatArray] = np.array((0.6, 0.4, 0.25, 0.15, 0.1, 0.06))
_LAST_SPEEDS: Final[FloatArray] = np.array((0.06, 0.1, 0.2))
_LEFT: Final[FloatArray] = np.array((0.015, 0.03, 0.06, 0.12, 0.25))
_START_LINES: Final[tuple[tuple[Point, Point], ...]] = (
    (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER),
    (Point.TRAIL_SHOULDER, Point.TRAIL_WRIST),
    (Point.LEAD_WRIST, Point.CLUBHEAD),
)
"""Lines through two points whose change is marked at the start."""
_LINE_NEAR: Final[FloatArray] = np.array((0.01, 0.02, 0.04, 0.08))
_LINE_SHARES: Final[FloatArray] = np.array((-0.8, -0.5, -0.25, 0.0))
"""When it is looked how far a line has changed, units from the reference."""
_LINE_UNIT: Final[float] = 0.1
"""Body heights in which such a change is told."""


@dataclass(frozen=True)
class Marks:
    """Moments seen about a position.

    ``values`` of shape (n_marks,) are relative to ``reference`` (seconds) in units of
    ``unit`` (seconds); NaN where a mark was not seen.
    """

    values: FloatArray
    reference: float
    unit: float


@dataclass(frozen=True)
class Rule:
    """A linear rule over marks: those not seen take their usual value.

    ``weights`` and ``usual`` have shape (n_marks,); ``spread`` is one standard deviation of
    what the rule leaves, seconds.
    """

    weights: FloatArray
    usual: FloatArray
    intercept: float
    spread: float

    def time(self, marks: Marks) -> float:
        """Time of the position in seconds."""
        values = np.where(np.isnan(marks.values), self.usual, marks.values)
        return marks.reference + marks.unit * float(values @ self.weights + self.intercept)


def refine(
    number: int, marks: Marks | None, placed: float, view: View, intent: Intent
) -> tuple[float, float] | None:
    """A better time for a position and its standard deviation, or ``None`` to keep the old.

    Parameters
    ----------
    placed : float
        Where thresholds place it, seconds.
    """
    rule = _rules().get((number, view, intent))
    if rule is None or marks is None or marks.values.shape != rule.weights.shape:
        return None
    time, farthest = rule.time(marks), _FARTHEST[number] * marks.unit
    if abs(time - placed) > farthest:
        return None
    return time, rule.spread


def marks_about(
    number: int,
    points: FloatArray,
    tracks: Tracks,
    swing: Downswing,
    times: Mapping[int, float],
    rest: int | None,
) -> Marks | None:
    """Marks about P1, P4 or P10.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    times
        Seconds of the positions found, by number.
    rest : int or None
        Last frame of rest at address.
    """
    if 4 not in times:
        return None
    if number == 4:
        return _about_turn(tracks, swing, times)
    if number == 1:
        return None if rest is None else _about_start(points, tracks, swing, times, rest)
    return _about_stop(points, tracks, times)


def _about_start(
    points: FloatArray, tracks: Tracks, swing: Downswing, times: Mapping[int, float], rest: int
) -> Marks | None:
    clock, path = tracks.times, tracks.hands - tracks.hips
    top = min(int(np.searchsorted(clock, times[4])), len(clock) - 1)
    first = int(np.searchsorted(clock, clock[rest] - _AT_ADDRESS))
    back, wide = slice(rest, top + 1), slice(first, top + 1)
    hands = last_upcrossing(clock[back], _away(path, first, rest)[back], _NEAR)
    head = _leaving(clock, _away(points[:, Point.CLUBHEAD], first, rest), wide, _CLUB_NEAR)
    rising = slice(swing.start, swing.start + _fastest(tracks.speed[swing.start : top + 1]) + 1)
    speed = tracks.speed[rising]
    peak = float(np.nanmax(speed)) if speed.size and not np.isnan(speed).all() else float("nan")
    speeds = last_upcrossing(clock[rising], speed, _SPEEDS_UP * peak)
    others = [times.get(3, np.nan), times.get(2, np.nan), clock[rest], times.get(1, np.nan)]
    reference, unit = float(hands[3]), times[4] - float(hands[3])
    lines, changed = [], []
    for start, end in _START_LINES:
        away = _away(points[:, end] - points[:, start], first, rest)
        lines.append(_leaving(clock, away, wide, _LINE_NEAR))
        changed.append(_amounts(clock, away, wide, reference + unit * _LINE_SHARES))
    moments = [hands, head, speeds, np.array(others), *lines]
    return _marks(moments, reference, unit, clock, changed)


def _about_turn(tracks: Tracks, swing: Downswing, times: Mapping[int, float]) -> Marks | None:
    clock, path = tracks.times, tracks.hands - tracks.hips
    turn = int(np.argmin(np.abs(clock - times[4])))
    away = _away(path, max(turn - 1, 0), turn + 1)
    down = slice(turn, (swing.end if swing.low is None else swing.low) + 1)
    up = slice(swing.start, turn + 1)
    falls = last_upcrossing(clock[down], away[down], _FALLS)
    rises = -last_upcrossing(-clock[up][::-1], away[up][::-1], _NEAR)
    if falls[2] - rises[2] > _LONGEST_TURN:
        return None
    others = [times.get(k, np.nan) for k in (4, 5, 6, 3)]
    reference = float(falls[3])
    unit = max(times[6] - reference, 0.03) if 6 in times else 0.2
    return _marks([falls, rises, np.array(others)], reference, unit, clock)


def _about_stop(points: FloatArray, tracks: Tracks, times: Mapping[int, float]) -> Marks | None:
    if 7 not in times or 10 not in times:
        return None
    whole = tracks.times
    first = int(np.searchsorted(whole, times[7]))
    clock = whole[first:]
    rest = int(np.searchsorted(clock, times[10]))
    at_finish = (rest, int(np.searchsorted(clock, times[10] + _AT_FINISH)))
    hands = tracks.hands - tracks.hips
    slowing = _slowing(clock, _steady_speed(whole, hands, first))
    reference = float(slowing[3])
    moments = [slowing, _nearing(clock, hands[first:], *at_finish)]
    moments += [
        _slowing(clock, _steady_speed(whole, path, first))
        for path in (tracks.hands, points[:, Point.LEAD_WRIST], tracks.shoulders)
    ]
    for path in (
        points[:, Point.NOSE],
        points[:, Point.CLUBHEAD],
        points[:, Point.LEAD_ELBOW] - points[:, Point.LEAD_SHOULDER],
        points[:, Point.TRAIL_SHOULDER] - points[:, Point.LEAD_SHOULDER],
    ):
        slowing = _slowing(clock, _steady_speed(whole, path, first))
        moments += [slowing[: len(_SPEEDS_DOWN)], _nearing(clock, path[first:], *at_finish)]
    others = [times[10], times.get(9, np.nan), times.get(8, np.nan)]
    unit = max(reference - times[7], 0.05)
    return _marks([*moments, np.array(others)], reference, unit, whole)


def _marks(
    moments: Sequence[FloatArray],
    reference: float,
    unit: float,
    clock: FloatArray,
    changed: Sequence[FloatArray] = (),
) -> Marks | None:
    if not (np.isfinite(reference) and unit > 0.0):
        return None
    frame = float(np.median(np.diff(clock)))
    relative = (np.concatenate(moments) - reference) / unit
    values = np.concatenate([relative, *changed, [np.log(unit), frame / unit]])
    return Marks(np.clip(values, -_FAR, _FAR), reference, unit)


def _away(path: FloatArray, first: int, last: int) -> FloatArray:
    """Distance of a path from its mean place over some frames, shape (n_frames,)."""
    place = path[first : last + 1]
    lost = np.isnan(place).any(axis=1)
    if lost.any():
        place = place[~lost]
    home = place.mean(axis=0) if len(place) else np.full(2, np.nan)
    return np.asarray(np.hypot(*(path - home).T))


def _leaving(clock: FloatArray, away: FloatArray, part: slice, levels: FloatArray) -> FloatArray:
    """Times after which a distance stays at or above some levels, over the frames it is seen."""
    seen = ~np.isnan(away[part])
    if not seen.any():
        return np.full(len(levels), np.nan)
    return last_upcrossing(clock[part][seen], away[part][seen], levels)


def _amounts(clock: FloatArray, away: FloatArray, part: slice, at: FloatArray) -> FloatArray:
    """A distance at some times, in units of :data:`_LINE_UNIT`; NaN where it is never seen."""
    seen = ~np.isnan(away[part])
    if np.count_nonzero(seen) < 2:
        return np.full(len(at), np.nan)
    return np.asarray(np.interp(at, clock[part][seen], away[part][seen]) / _LINE_UNIT)


def _nearing(clock: FloatArray, path: FloatArray, rest: int, last: int) -> FloatArray:
    """When a path comes for good within some distances of its place at the finish."""
    away = _away(path, rest, last)
    if np.isnan(away).all():
        return np.full(len(_LEFT), np.nan)
    left = np.minimum.accumulate(np.where(np.isnan(away), np.inf, away))
    return last_time_above(clock, left, _LEFT)


def _slowing(clock: FloatArray, speed: FloatArray) -> FloatArray:
    """When a speed first falls below shares of its peak, and last exceeds some."""
    peak = _fastest(speed)
    if speed.size == 0 or np.isnan(speed[peak]):
        return np.full(len(_SPEEDS_DOWN) + len(_LAST_SPEEDS), np.nan)
    falling = speed[peak:]
    slowing = np.minimum.accumulate(np.where(np.isnan(falling), np.inf, falling))
    down = last_time_above(clock[peak:], slowing, _SPEEDS_DOWN * speed[peak])
    return np.concatenate([down, last_time_above(clock, speed, _LAST_SPEEDS * speed[peak])])


def _fastest(speed: FloatArray) -> int:
    """Frame of the greatest speed that is seen, or 0."""
    if speed.size == 0:
        return 0
    peak = int(np.argmax(speed))  # which is the first NaN, if there is any
    seen = not np.isnan(speed[peak])
    return peak if seen or np.isnan(speed).all() else int(np.nanargmax(speed))


def _steady_speed(clock: FloatArray, path: FloatArray, first: int) -> FloatArray:
    """Speed from a frame on over a fixed stretch of time, which frame rate and jitter do not
    change much."""
    plane, at = path[:, 0] + 1j * path[:, 1], clock[first:]
    seen = ~np.isnan(plane)
    if np.count_nonzero(seen) < 2:
        return np.full(len(at), np.nan)
    known, plane = clock[seen], plane[seen]
    way = np.interp(at + _STEADY, known, plane) - np.interp(at - _STEADY, known, plane)
    return np.asarray(np.abs(way) / (2.0 * _STEADY))


@cache
def _rules() -> dict[tuple[int, View, Intent], Rule]:
    text = resources.files("service.analysis.events").joinpath(TABLE).read_text(encoding="utf-8")
    return {
        (entry["position"], View(entry["view"]), Intent(entry["intent"])): Rule(
            np.array(entry["weights"]),
            np.array(entry["usual"]),
            entry["intercept"],
            entry["spread"],
        )
        for entry in json.loads(text)["rules"]
    }
