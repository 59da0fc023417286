"""Starts, turns and stops placed better than any one threshold can.

When a movement leaves rest, turns or comes to rest is hidden in the noise; what is well seen is
when it has gone a little, some more, and a lot. A linear rule over those *marks*, learnt
from simulated swings (``python -m training.fit_positions``), tells the moment from them. It is
learnt for each view and intent, since down the line much of the path lies along the line of
sight and a rehearsal starts and stops more gently.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Final

import numpy as np

from service.analysis.detection import Downswing
from service.analysis.points import Point
from service.analysis.swing import FloatArray, Intent, View
from service.analysis.tracks import Tracks

REFINED: Final[tuple[int, ...]] = (4, 1, 10)
"""The positions so placed, in the order in which it is done."""
TABLE: Final[str] = "refinement.json"
_FAR: Final[float] = 20.0
"""No mark is taken to lie further off than this many units of the movement's time."""
_FARTHEST: Final[dict[int, float]] = {1: 0.5, 4: 1.0, 10: 3.0}
"""How far from where thresholds place it a position may be moved, in the same unit."""
_STEADY: Final[float] = 0.035
"""Seconds to either side over which a speed is taken."""
_AT_ADDRESS: Final[float] = 0.12
"""Seconds of rest whose mean is the place at address."""
_AT_FINISH: Final[float] = 0.1
"""Seconds of rest whose mean is the place at the finish."""
_LONGEST_TURN: Final[float] = 0.45
"""Seconds about the top within 0.04 body heights; a longer one is a pause of its own kind."""
_NEAR: Final[tuple[float, ...]] = (0.01, 0.02, 0.04, 0.08, 0.16)
"""Distances from rest in body heights; the fourth is the reference."""
_CLUB_NEAR: Final[tuple[float, ...]] = (0.03, 0.06, 0.12, 0.25)
_SPEEDS_UP: Final[tuple[float, ...]] = (0.05, 0.1, 0.2, 0.4)
_FALLS: Final[tuple[float, ...]] = (0.01, 0.02, 0.04, 0.08, 0.16, 0.3)
_SPEEDS_DOWN: Final[tuple[float, ...]] = (0.6, 0.4, 0.25, 0.15, 0.1, 0.06)
_LAST_SPEEDS: Final[tuple[float, ...]] = (0.06, 0.1, 0.2)
_LEFT: Final[tuple[float, ...]] = (0.015, 0.03, 0.06, 0.12, 0.25)


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
    back = slice(rest, top + 1)
    hands = [_leaves(clock[back], _away(path, first, rest)[back], d) for d in _NEAR]
    wide = slice(first, top + 1)
    club = _away(points[:, Point.CLUBHEAD], first, rest)[wide]
    seen = ~np.isnan(club)
    head = [_leaves(clock[wide][seen], club[seen], d) for d in _CLUB_NEAR]
    rising = slice(swing.start, swing.start + _fastest(tracks.speed[swing.start : top + 1]) + 1)
    speed = tracks.speed[rising]
    peak = np.nanmax(speed) if speed.size and not np.isnan(speed).all() else np.nan
    speeds = [_leaves(clock[rising], speed, s * peak) for s in _SPEEDS_UP]
    others = [times.get(3, np.nan), times.get(2, np.nan), clock[rest], times.get(1, np.nan)]
    return _marks([*hands, *head, *speeds, *others], hands[3], times[4] - hands[3], clock)


def _about_turn(tracks: Tracks, swing: Downswing, times: Mapping[int, float]) -> Marks | None:
    clock, path = tracks.times, tracks.hands - tracks.hips
    turn = int(np.argmin(np.abs(clock - times[4])))
    away = _away(path, max(turn - 1, 0), turn + 1)
    down = slice(turn, (swing.end if swing.low is None else swing.low) + 1)
    up = slice(swing.start, turn + 1)
    falls = [_leaves(clock[down], away[down], d) for d in _FALLS]
    rises = [-_leaves(-clock[up][::-1], away[up][::-1], d) for d in _NEAR]
    if falls[2] - rises[2] > _LONGEST_TURN:
        return None
    others = [times.get(k, np.nan) for k in (4, 5, 6, 3)]
    unit = max(times[6] - falls[3], 0.03) if 6 in times else 0.2
    return _marks([*falls, *rises, *others], falls[3], unit, clock)


def _about_stop(points: FloatArray, tracks: Tracks, times: Mapping[int, float]) -> Marks | None:
    if 7 not in times or 10 not in times:
        return None
    clock = tracks.times
    first = int(np.searchsorted(clock, times[7]))
    clock = clock[first:]
    paths = (
        tracks.hands - tracks.hips,
        tracks.hands,
        points[:, Point.LEAD_WRIST],
        tracks.shoulders,
    )
    moments: list[float] = []
    for path in paths:
        speed = _steady_speed(tracks.times, path)[first:]
        moments += _slowing(clock, speed)
    hands = (tracks.hands - tracks.hips)[first:]
    rest = int(np.searchsorted(clock, times[10]))
    left = _away(hands, rest, int(np.searchsorted(clock, times[10] + _AT_FINISH)))
    nearing = np.minimum.accumulate(np.nan_to_num(left, nan=np.inf))
    moments += [_last_above(clock, nearing, d) for d in _LEFT]
    moments += [times[10], times.get(9, np.nan), times.get(8, np.nan)]
    reference = moments[3]
    return _marks(moments, reference, max(reference - times[7], 0.05), tracks.times)


def _marks(moments: list[float], reference: float, unit: float, clock: FloatArray) -> Marks | None:
    if not (np.isfinite(reference) and unit > 0.0):
        return None
    frame = float(np.median(np.diff(clock)))
    relative = (np.array(moments) - reference) / unit
    values = np.append(relative, [np.log(unit), frame / unit])
    return Marks(np.clip(values, -_FAR, _FAR), reference, unit)


def _away(path: FloatArray, first: int, last: int) -> FloatArray:
    """Distance of a path from its mean place over some frames, shape (n_frames,)."""
    place = path[first : last + 1]
    place = place[~np.isnan(place).any(axis=1)]
    home = place.mean(axis=0) if len(place) else np.full(2, np.nan)
    return np.asarray(np.hypot(*(path - home).T))


def _leaves(clock: FloatArray, values: FloatArray, level: float) -> float:
    """Time after which ``values`` stay at or above ``level``, starting from below it."""
    below = np.flatnonzero(values < level)
    if below.size == 0 or below[-1] + 1 >= len(values):
        return float("nan")
    k = int(below[-1])
    share = (level - values[k]) / (values[k + 1] - values[k])
    return float(clock[k] + share * (clock[k + 1] - clock[k]))


def _last_above(clock: FloatArray, values: FloatArray, level: float) -> float:
    """Time at which ``values`` were last at ``level`` or above; NaN if they still are."""
    above = np.flatnonzero(values >= level)
    if above.size == 0:
        return float("nan")
    k = int(above[-1])
    if k + 1 >= len(values) or np.isnan(values[k + 1]):
        return float("nan")
    share = (values[k] - level) / (values[k] - values[k + 1])
    return float(clock[k] + share * (clock[k + 1] - clock[k]))


def _slowing(clock: FloatArray, speed: FloatArray) -> list[float]:
    """When a speed first falls below shares of its peak, and last exceeds some."""
    if speed.size == 0 or np.isnan(speed).all():
        return [float("nan")] * (len(_SPEEDS_DOWN) + len(_LAST_SPEEDS))
    peak = _fastest(speed)
    slowing = np.minimum.accumulate(np.nan_to_num(speed[peak:], nan=np.inf))
    top = float(speed[peak])
    down = [_last_above(clock[peak:], slowing, s * top) for s in _SPEEDS_DOWN]
    return [*down, *(_last_above(clock, speed, s * top) for s in _LAST_SPEEDS)]


def _fastest(speed: FloatArray) -> int:
    return 0 if speed.size == 0 or np.isnan(speed).all() else int(np.nanargmax(speed))


def _steady_speed(clock: FloatArray, path: FloatArray) -> FloatArray:
    """Speed over a fixed stretch of time, which frame rate and jitter do not change much."""
    seen = ~np.isnan(path).any(axis=1)
    if np.count_nonzero(seen) < 2:
        return np.full(len(clock), np.nan)
    after, before = (
        np.column_stack([np.interp(clock + s, clock[seen], path[seen, k]) for k in (0, 1)])
        for s in (_STEADY, -_STEADY)
    )
    return np.asarray(np.hypot(*(after - before).T) / (2.0 * _STEADY))


@cache
def _rules() -> dict[tuple[int, View, Intent], Rule]:
    text = resources.files("service.analysis").joinpath(TABLE).read_text(encoding="utf-8")
    return {
        (entry["position"], View(entry["view"]), Intent(entry["intent"])): Rule(
            np.array(entry["weights"]),
            np.array(entry["usual"]),
            entry["intercept"],
            entry["spread"],
        )
        for entry in json.loads(text)["rules"]
    }
