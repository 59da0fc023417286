"""What is well seen about a position: moments and amounts a rule can go by.

When a movement leaves rest, turns or comes to rest is hidden in the noise, and without a club so is
the moment at which the shaft is parallel. What is seen is when the hands, the arms and the lines of
the body have gone a little, some more and a lot. Those *marks* are gathered here;
:mod:`service.analysis.events.positions.refinement` tells the moment from them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite, isnan
from typing import Final

import numpy as np

from service.analysis.events.detection import Downswing
from service.analysis.events.landmark_paths import Tracks
from service.analysis.events.level_crossings import (
    first_upcrossing,
    last_time_above,
    last_upcrossing,
)
from service.analysis.events.positions.onsets import (
    joint_leaving_time,
    leaving_time,
    mean_place,
    rest_needed,
)
from service.analysis.pose.geometry import distance, within
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray

# All numbers below say where it is looked, not what is concluded: judgement, checked by what the
# rules made of them leave over on sources left out.
ABOUT_LOW: Final[frozenset[int]] = frozenset({6, 7, 8})
"""Positions that share the marks about impact."""
BY_ARM: Final[Mapping[int, tuple[int, int]]] = {3: (1, 4), 5: (4, 7), 9: (7, 10)}
"""Positions at which an arm is level, and those between which it is looked."""
_ARM_LEVELS: Final[FloatArray] = np.array((-0.12, -0.07, -0.035, 0.0, 0.035, 0.07, 0.12))
"""Body heights by which the end of an arm is higher than where it begins."""
_ARMS: Final[tuple[tuple[Point, Point], ...]] = (
    (Point.LEAD_SHOULDER, Point.LEAD_WRIST),
    (Point.TRAIL_SHOULDER, Point.TRAIL_WRIST),
)
_ARM_LINES: Final[tuple[tuple[Point, Point], ...]] = (
    *_ARMS,
    (Point.LEAD_SHOULDER, Point.LEAD_ELBOW),
    (Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW),
)
_BODY_LINES: Final[tuple[tuple[Point, Point], ...]] = (
    (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER),
    (Point.LEAD_HIP, Point.TRAIL_HIP),
    (Point.LEAD_ANKLE, Point.TRAIL_ANKLE),
    (Point.LEAD_ANKLE, Point.LEAD_HIP),
)
"""Lines that tell how the body is turned and from what height it is filmed."""
_LINE_STARTS, _LINE_ENDS = (list(ends) for ends in zip(*_ARM_LINES, *_BODY_LINES, strict=True))
_ALL_ARM_LEVELS: Final[FloatArray] = np.tile(_ARM_LEVELS, (len(_ARM_LINES) + 1, 1))
_FAR: Final[float] = 20.0
"""No mark is taken to lie further off than this many units of the movement's time."""
_STEADY: Final[float] = 0.035
"""Seconds to either side over which a speed is taken."""
_AT_ADDRESS: Final[float] = 0.12
"""Seconds of rest whose mean is the place at address."""
_UNSEEN_START: Final[float] = 0.4
_SEEN_START: Final[float] = 0.25
"""Shares of the backswing seen, before and after the hands are last seen to rest, between which it
is looked for the first of any movement."""
_AT_FINISH: Final[tuple[float, float]] = (0.05, 0.5)
"""Seconds after the hands are seen to hold, of whose frames the mean is the place at the finish."""
_LONGEST_TURN: Final[float] = 1.0
"""Seconds about the top within 0.04 body heights; a longer one is a pause of its own kind."""
_NEAR: Final[FloatArray] = np.array((0.01, 0.02, 0.04, 0.08, 0.16))
"""Distances from rest in body heights; the fourth is the reference."""
_CLUB_NEAR: Final[FloatArray] = np.array((0.03, 0.06, 0.12, 0.25))
"""Distances of the clubhead from its place at address in body heights."""
_SPEEDS_UP: Final[FloatArray] = np.array((0.05, 0.1, 0.2, 0.4))
"""Shares of the greatest speed of the hands in the backswing."""
_FALLS: Final[FloatArray] = np.array((0.01, 0.02, 0.04, 0.08, 0.16, 0.3))
"""Body heights from the top."""
_SPEEDS_DOWN: Final[FloatArray] = np.array((0.6, 0.4, 0.25, 0.15, 0.1, 0.06))
_LAST_SPEEDS: Final[FloatArray] = np.array((0.06, 0.1, 0.2))
"""Shares of a path's greatest speed after impact."""
_LEFT: Final[FloatArray] = np.array((0.015, 0.03, 0.06, 0.12, 0.25))
"""Body heights left to the place at the finish."""
_START_LINES: Final[tuple[tuple[Point, Point], ...]] = (
    (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER),
    (Point.TRAIL_SHOULDER, Point.TRAIL_WRIST),
    (Point.LEAD_WRIST, Point.CLUBHEAD),
)
"""Lines through two points whose change is marked at the start."""
_BODY: Final = np.array(
    [
        p
        for p in Point
        if Point.LEAD_SHOULDER <= p <= Point.TRAIL_WRIST or Point.LEAD_HIP <= p <= Point.TRAIL_KNEE
    ]
)
"""Joints that leave address together: arms, trunk and knees."""
_BODY_AND_CLUB: Final = np.append(_BODY, Point.CLUBHEAD)
_SOONER: Final[float] = 0.3
"""Units before the reference up to which they are looked at too, where the way is still short."""
_LINE_NEAR: Final[FloatArray] = np.array((0.01, 0.02, 0.04, 0.08))
"""Body heights by which such a line has changed."""
_SHARES: Final[FloatArray] = np.array((-0.8, -0.5, -0.25, 0.0))
"""When it is looked how far something has gone, units from the reference."""
_UNIT_LENGTH: Final[float] = 0.1
"""Body heights in which amounts are told."""
_HEIGHTS: Final[FloatArray] = np.array((0.08, 0.16, 0.3, 0.5, 0.75))
"""Shares of the hands' way up from their lowest place."""
_SIDEWAYS: Final[FloatArray] = np.array((-0.12, -0.06, -0.02, 0.02, 0.06, 0.12))
"""Body heights of the hands to either side of their place at address."""
_ABOUT_LOW: Final[FloatArray] = np.array((-0.6, -0.3, 0.0, 0.3, 0.6))
"""When it is looked how lines of the body lie, units from the hands' lowest place."""
_LOW_LINES: Final[tuple[tuple[Point, Point], ...]] = (
    *_ARMS,
    (Point.TRAIL_ELBOW, Point.TRAIL_WRIST),
    (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER),
)
"""Lines that tell how far arms and trunk have come through the ball."""
_RISE_LINES: Final[tuple[tuple[Point, Point], ...]] = (
    *_ARMS,
    (Point.TRAIL_ELBOW, Point.TRAIL_WRIST),
    (Point.LEAD_ELBOW, Point.LEAD_WRIST),
)
"""Lines that tell how the arms fold on the way back."""
_RISE_SHARES: Final[FloatArray] = np.array((-0.4, 0.0, 0.5))
_TWO_FALLS: Final[FloatArray] = np.stack([_FALLS, _FALLS])
_TWO_NEAR: Final[FloatArray] = np.stack([_NEAR, _NEAR])
_UNSURE_OF: Final[list[Point]] = [Point.LEAD_WRIST, Point.LEAD_SHOULDER, Point.CLUBHEAD]
"""Points whose error tells how far small ways can be trusted."""
_LEAST_ERROR: Final[float] = 0.004
"""Body heights; no point is better known."""
_NO_AMOUNTS: Final[FloatArray] = np.zeros(0)


@dataclass(frozen=True)
class Marks:
    """What is seen about a position.

    ``values`` of shape (n_marks,) are moments relative to ``reference`` (seconds) in units of
    ``unit`` (seconds), and amounts; NaN where a mark was not seen. ``frame`` is the time between
    frames in seconds.
    """

    values: FloatArray
    reference: float
    unit: float
    frame: float


def marks_about(
    number: int,
    points: FloatArray,
    tracks: Tracks,
    swing: Downswing,
    times: Mapping[int, float],
    rest: int | None,
    still: int | None,
    unsure: FloatArray,
) -> Marks | None:
    """Marks about a position.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    times
        Seconds of the positions found, by number.
    rest : int or None
        Last frame of rest at address.
    still : int or None
        Last frame before any of the body moves off (:func:`last_still`).
    unsure
        From :func:`how_unsure`.
    """
    seen = _seen_about(number, points, tracks, swing, times, rest, still)
    if seen is None:
        return None
    return replace(seen, values=np.concatenate([seen.values, unsure]))


def how_unsure(noise: FloatArray) -> FloatArray:
    """What tells how far small ways can be trusted, from one standard deviation of each point on
    one axis, shape (n_points,)."""
    return np.asarray(np.log(np.maximum(noise[_UNSURE_OF], _LEAST_ERROR) / _LEAST_ERROR))


def _seen_about(
    number: int,
    points: FloatArray,
    tracks: Tracks,
    swing: Downswing,
    times: Mapping[int, float],
    rest: int | None,
    still: int | None,
) -> Marks | None:
    if 4 not in times:
        return None
    if number == 4:
        return _about_turn(points, tracks, swing, times)
    if number == 10:
        return _about_stop(points, tracks, times)
    if number in BY_ARM:
        return _about_level_arm(number, points, tracks, swing, times)
    if number in ABOUT_LOW:
        return _about_low(points, tracks, swing, times, rest)
    if rest is None or still is None:
        return None
    if number == 1:
        return _about_start(points, tracks, swing, times, still)
    return _about_rise(points, tracks, times, rest)


def last_still(points: FloatArray, tracks: Tracks, rest: int, top: float) -> int:
    """Last frame before any of the body moves off, at or before one at which the hands rest.

    Down the line the hands start along the line of sight and seem to rest when shoulders, knees
    and club are well on their way.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
    rest : int
        Last frame at which the hands rest at address.
    top : float
        Seconds.
    """
    clock = tracks.times
    back = slice(int(clock.searchsorted(top)) + 1)
    together = points[back].take(_BODY, axis=1) - tracks.hips[back, None]
    for _ in range(2):
        unit = top - clock[rest]
        begin = int(clock.searchsorted(clock[rest] - _UNSEEN_START * unit - _AT_ADDRESS))
        still = int(clock.searchsorted(clock[begin] + _AT_ADDRESS))
        until = float(clock[rest] + _SEEN_START * unit)
        moved = joint_leaving_time(clock, together, begin, still, until)
        if isnan(moved):
            break
        before, rest = rest, min(max(int(clock.searchsorted(moved)) - 1, still), max(rest, still))
        if rest == before:
            break
    return rest


def _about_start(
    points: FloatArray, tracks: Tracks, swing: Downswing, times: Mapping[int, float], rest: int
) -> Marks | None:
    clock, path = tracks.times, tracks.path
    top = min(int(clock.searchsorted(times[4])), len(clock) - 1)
    first = int(clock.searchsorted(clock[rest] - _AT_ADDRESS))
    back, wide = slice(rest, top + 1), slice(first, top + 1)
    hands = last_upcrossing(clock[back], _away(path, first, rest)[back], _NEAR)
    reference, unit = float(hands[3]), times[4] - float(hands[3])
    if not (isfinite(reference) and unit > 0.0):
        return None
    at = reference + unit * _SHARES
    head = points[:, Point.CLUBHEAD]
    clubhead = _leaving(clock, _away(head, first, rest), wide, _CLUB_NEAR)
    ways = [path, head, *(points[:, end] - points[:, start] for start, end in _START_LINES)]
    rising = slice(swing.start, swing.start + _fastest(tracks.speed[swing.start : top + 1]) + 1)
    speed = tracks.speed[rising]
    peak = float(np.fmax.reduce(speed, initial=-np.inf))
    peak = peak if isfinite(peak) else float("nan")
    speeds = last_upcrossing(clock[rising], speed, _SPEEDS_UP * peak)
    others = [times.get(3, np.nan), times.get(2, np.nan), clock[rest], times.get(1, np.nan)]
    lines = []
    begin = int(clock.searchsorted(clock[rest] - rest_needed(unit)))
    onsets = [
        leaving_time(clock, path, begin, rest, hands[4]),
        leaving_time(clock, head, begin, rest, clubhead[3]),
    ]
    for line in ways[2:]:
        lines.append(_leaving(clock, _away(line, first, rest), wide, _LINE_NEAR))
        onsets.append(leaving_time(clock, line, begin, rest, lines[-1][3]))
    together = points[: top + 1].take(_BODY_AND_CLUB, axis=1) - tracks.hips[: top + 1, None]
    club_seen = not np.isnan(together[:, -1]).all()
    for until in (reference, reference - _SOONER * unit):
        body = joint_leaving_time(clock, together[:, :-1], begin, rest, until)
        with_club = joint_leaving_time(clock, together, begin, rest, until) if club_seen else body
        onsets += [body, with_club]
    moments = [hands, clubhead, speeds, np.array([*others, *onsets]), *lines]
    return _marks(moments, reference, unit, tracks.frame, _gone(clock, ways, first, rest, at))


def _about_rise(
    points: FloatArray, tracks: Tracks, times: Mapping[int, float], rest: int
) -> Marks | None:
    """About the takeaway as the arms show it: how high the hands are and how the arms fold."""
    clock, path = tracks.times, tracks.path
    if 1 not in times:
        return None
    top = min(int(np.searchsorted(clock, times[4])), len(clock) - 1)
    first = int(np.searchsorted(clock, clock[rest] - _AT_ADDRESS))
    back = slice(rest, top + 1)
    low, high = _mean(tracks.height[first : rest + 1]), tracks.height[top]
    heights = last_upcrossing(clock[back], tracks.height[back], low + (high - low) * _HEIGHTS)
    away = last_upcrossing(clock[back], _away(path, first, rest)[back], 2.0 * _NEAR)
    reference, unit = float(heights[2]), times[4] - float(heights[2])
    at = reference + unit * _RISE_SHARES
    amounts = _at(clock, [points[:, b] - points[:, a] for a, b in _RISE_LINES], at)
    others = [times[1], times.get(3, np.nan)]
    amounts = np.append(amounts, (high - low) / _UNIT_LENGTH)
    return _marks([heights, away, np.array(others)], reference, unit, tracks.frame, amounts)


def _about_level_arm(
    number: int,
    points: FloatArray,
    tracks: Tracks,
    swing: Downswing,
    times: Mapping[int, float],
) -> Marks | None:
    """About P3, P5 or P9: when both arms, whole and by parts, pass through some heights."""
    if number not in times:
        return None
    clock, turn = tracks.times, -1.0 if number == 5 else 1.0
    before, after = BY_ARM[number]
    first = int(clock.searchsorted(times.get(before, clock[swing.start]))) - 1
    last = int(clock.searchsorted(times.get(after, clock[-1]))) + 1
    part = slice(max(first, 0), last)
    signals = np.empty((len(_ARM_LINES) + 1, len(clock[part])))
    for k, (start, end) in enumerate(_ARM_LINES):
        np.subtract(points[part, end, 1], points[part, start, 1], out=signals[k])
    np.subtract(tracks.hands[part, 1], tracks.shoulders[part, 1], out=signals[-1])
    passed = last_upcrossing(clock[part], turn * signals, _ALL_ARM_LEVELS)
    reference = times[number]
    ends = passed[0 if number != 9 else 1]
    unit = float(ends[-2] - ends[1])
    if not unit > 0.0:
        unit = 0.2 * abs(times.get(after, clock[-1]) - reference)
    amounts = _lines_at(clock, points, reference)
    return _marks([passed.ravel()], reference, max(unit, 1e-3), tracks.frame, amounts)


def _lines_at(clock: FloatArray, points: FloatArray, time: float) -> FloatArray:
    """What :func:`_at` tells of the arms' and the body's lines at one time."""
    k = min(max(int(clock.searchsorted(time)) - 1, 0), len(clock) - 2)
    two = points[k : k + 2].take(_LINE_ENDS, axis=1) - points[k : k + 2].take(_LINE_STARTS, axis=1)
    if isnan(np.add.reduce(two, axis=None)):
        lines = [points[:, b] - points[:, a] for a, b in (*_ARM_LINES, *_BODY_LINES)]
        return _at(clock, lines, np.array([time]))
    share = within(float((time - clock[k]) / (clock[k + 1] - clock[k])), 0.0, 1.0)
    return np.asarray((two[0] + share * (two[1] - two[0])).ravel() / _UNIT_LENGTH)


def _about_turn(
    points: FloatArray, tracks: Tracks, swing: Downswing, times: Mapping[int, float]
) -> Marks | None:
    """About the top: the hands against the hips, and the lead arm, whose turn defines it."""
    clock = tracks.times
    turn = int(np.argmin(np.abs(clock - times[4])))
    down = slice(turn, (swing.end if swing.low is None else swing.low) + 1)
    up = slice(swing.start, turn + 1)
    arm = points[:, Point.LEAD_WRIST] - points[:, Point.LEAD_SHOULDER]
    away = np.stack([_away(path, max(turn - 1, 0), turn + 1) for path in (tracks.path, arm)])
    falls, arm_falls = last_upcrossing(clock[down], away[:, down], _TWO_FALLS)
    rises, arm_rises = -last_upcrossing(-clock[up][::-1], away[:, up][:, ::-1], _TWO_NEAR)
    if falls[2] - rises[2] > _LONGEST_TURN:
        return None
    others = [times.get(k, np.nan) for k in (4, 5, 6, 3)]
    reference = float(falls[3])
    unit = max(times[6] - reference, 0.03) if 6 in times else 0.2
    moments = [falls, rises, np.array(others), arm_falls, arm_rises]
    return _marks(moments, reference, unit, tracks.frame)


def _about_low(
    points: FloatArray,
    tracks: Tracks,
    swing: Downswing,
    times: Mapping[int, float],
    rest: int | None,
) -> Marks | None:
    """About impact: when hands, arms and club pass the ball's place on the way down and up.

    Where the hands are lowest is only one of the marks: a handle that rises through impact is
    lowest before it.
    """
    if swing.low is None:
        return None
    clock, path, low = tracks.times, tracks.path, swing.low
    top = min(int(np.searchsorted(clock, times[4])), low)
    down, up, both = slice(top, low + 1), slice(low, swing.end + 1), slice(top, swing.end + 1)
    height = tracks.height
    levels = height[low] + (height[top] - height[low]) * _HEIGHTS
    falling = last_time_above(clock[down], height[down], levels)
    rising = first_upcrossing(clock[up], height[up], levels)
    reference, unit = lowest_time(clock, height, low), 0.5 * float(rising[3] - falling[3])
    if not np.isfinite(unit):
        unit = reference - float(falling[3])
    first = 0 if rest is None else int(np.searchsorted(clock, clock[rest] - _AT_ADDRESS))
    home = np.full(2, np.nan) if rest is None else mean_place(path, first, rest)
    sideways = first_upcrossing(clock[both], path[both, 0] - home[0], _SIDEWAYS)
    shaft = points[:, Point.CLUBHEAD] - points[:, Point.GRIP]
    club = np.concatenate(
        [
            last_time_above(clock[down], shaft[down, 1], np.zeros(1)),
            first_upcrossing(clock[up], shaft[up, 1], np.zeros(1)),
            first_upcrossing(clock[both], shaft[both, 0], np.zeros(1)),
        ]
    )
    back_at_ball = _closest(clock, points[:, Point.CLUBHEAD], first, rest, both)
    at = reference + unit * _ABOUT_LOW
    lines = [points[:, b] - points[:, a] for a, b in _LOW_LINES]
    amounts = _at(clock, [*lines, path - home], at)
    fastest = clock[top + _fastest(tracks.speed[both])]
    others = [times.get(k, np.nan) for k in (4, 5, 9)]
    moments = [falling, rising, sideways, club, np.array([*others, fastest, back_at_ball])]
    return _marks(moments, reference, unit, tracks.frame, amounts)


def _about_stop(points: FloatArray, tracks: Tracks, times: Mapping[int, float]) -> Marks | None:
    if 7 not in times or 10 not in times:
        return None
    whole = tracks.times
    first = int(np.searchsorted(whole, times[7]))
    clock = whole[first:]
    begin, end = times[10] + _AT_FINISH[0], times[10] + _AT_FINISH[1]
    rest = min(int(np.searchsorted(clock, begin)), len(clock) - 1)
    at_finish = (rest, int(np.searchsorted(clock, end)))
    hands = tracks.path
    paths = [
        hands,
        tracks.hands,
        points[:, Point.LEAD_WRIST],
        tracks.shoulders,
        points[:, Point.NOSE],
        points[:, Point.CLUBHEAD],
        points[:, Point.LEAD_ELBOW] - points[:, Point.LEAD_SHOULDER],
        points[:, Point.TRAIL_SHOULDER] - points[:, Point.LEAD_SHOULDER],
    ]
    slowing = _slowing(clock, _steady_speeds(whole, paths, first))
    arriving = [path[first:] for path in (hands, tracks.hands, *paths[4:])]
    nearing = _nearing(clock, arriving, *at_finish)
    reference = float(nearing[0, 2])
    unit = max(reference - times[7], 0.05)
    still = rest_needed(unit)
    moments = [slowing[0], nearing[0], *slowing[1:4]]
    moments.append(nearing[1])
    for slow, near in zip(slowing[4:], nearing[2:], strict=True):
        moments += [slow[: len(_SPEEDS_DOWN)], near]
    since = [nearing[1, 4], *nearing[2:4, 3]]
    ends = [_stop(clock, *each, rest, still) for each in zip(arriving[1:4], since, strict=True)]
    others = [times[10], times.get(9, np.nan), times.get(8, np.nan)]
    return _marks([*moments, np.array([*others, *ends])], reference, unit, tracks.frame)


def _stop(clock: FloatArray, path: FloatArray, since: float, rest: int, still: float) -> float:
    """When a path has come to its place for good: its onset, looked at backward in time."""
    last = int(clock.searchsorted(clock[min(rest, len(clock) - 1)] + still))
    backward = slice(max(min(last, len(clock)), 1) - 1, None, -1)
    resting = max(last - rest, 0)
    return -leaving_time(-clock[backward], path[backward], 0, resting, -since)


def _marks(
    moments: Sequence[FloatArray],
    reference: float,
    unit: float,
    frame: float,
    amounts: FloatArray = _NO_AMOUNTS,
) -> Marks | None:
    if not (isfinite(reference) and unit > 0.0):
        return None
    relative = (np.concatenate(moments) - reference) / unit
    values = np.concatenate([relative, amounts, [np.log(unit), frame / unit]])
    return Marks(np.minimum(np.maximum(values, -_FAR), _FAR), reference, unit, frame)


def lowest_time(clock: FloatArray, height: FloatArray, k: int) -> float:
    """Sub-frame time of a low near frame ``k``, from the parabola through three samples."""
    if not 0 < k < len(clock) - 1 or np.isnan(height[k - 1 : k + 2]).any():
        return float(clock[k])
    before, after = clock[k] - clock[k - 1], clock[k + 1] - clock[k]
    fall, rise = (height[k] - height[k - 1]) / before, (height[k + 1] - height[k]) / after
    bend = (rise - fall) / (before + after)
    if bend <= 0.0:
        return float(clock[k])
    slope = fall + bend * before
    return float(clock[k]) + within(float(-slope / (2.0 * bend)), -float(before), float(after))


def _closest(
    clock: FloatArray, head: FloatArray, first: int, rest: int | None, part: slice
) -> float:
    """When the clubhead comes closest to its place at address, NaN where that is not seen."""
    if rest is None:
        return float("nan")
    away = _away(head, first, rest)
    if np.isnan(away[part]).all():
        return float("nan")
    return lowest_time(clock, away**2, part.start + int(np.nanargmin(away[part])))


def _mean(values: FloatArray) -> float:
    known = values[~np.isnan(values)]
    return float(known.mean()) if known.size else float("nan")


def _away(path: FloatArray, first: int, last: int) -> FloatArray:
    """Distance of a path from its mean place over some frames, shape (n_frames,)."""
    return distance(path, mean_place(path, first, last))


def _gone(
    clock: FloatArray, paths: Sequence[FloatArray], first: int, last: int, at: FloatArray
) -> FloatArray:
    """How far each path has gone from its place at address toward where it is at the last of some
    times, in units of :data:`_UNIT_LENGTH`, flat; NaN where it is never seen."""
    way = _sampled(clock, paths, at) - [mean_place(path, first, last) for path in paths]
    length = np.maximum(np.hypot(way[-1, :, 0], way[-1, :, 1]), 1e-9)
    gone = np.einsum("tpk,pk->pt", way, way[-1]) / (_UNIT_LENGTH * length[:, None])
    return np.asarray(gone.ravel())


def _at(clock: FloatArray, lines: Sequence[FloatArray], at: FloatArray) -> FloatArray:
    """Both coordinates of each line at some times, in units of :data:`_UNIT_LENGTH`, flat."""
    return _sampled(clock, lines, at).swapaxes(0, 1).ravel() / _UNIT_LENGTH


def _sampled(clock: FloatArray, paths: Sequence[FloatArray], at: FloatArray) -> FloatArray:
    """Paths at some times, bridged over gaps, shape (n_at, n_paths, 2); NaN where never seen."""
    together = np.concatenate(paths, axis=1).reshape(len(clock), -1, 2)
    lost = np.isnan(np.add.reduce(together)).any(axis=1)
    for path in np.flatnonzero(lost):
        together[:, path] = _bridged(clock, together[:, path])
    k = np.minimum(np.maximum(clock.searchsorted(at) - 1, 0), len(clock) - 2)
    share = (at - clock[k]) / (clock[k + 1] - clock[k])
    share = np.minimum(np.maximum(share, 0.0), 1.0)[:, None, None]
    here = together[k]
    return np.asarray(here + share * (together[k + 1] - here))


def _bridged(clock: FloatArray, path: FloatArray) -> FloatArray:
    """A path with straight lines over its gaps; NaN where it is hardly ever seen."""
    seen = ~np.isnan(path[:, 0] + path[:, 1])
    if np.count_nonzero(seen) < 2:
        return np.full(2, np.nan)
    known, bridged = path[seen], np.empty(path.shape)
    for k in (0, 1):
        bridged[:, k] = np.interp(clock, clock[seen], known[:, k])
    return bridged


def _leaving(clock: FloatArray, away: FloatArray, part: slice, levels: FloatArray) -> FloatArray:
    """Times after which a distance stays at or above some levels, over the frames it is seen."""
    clock, away = clock[part], away[part]
    if isnan(np.add.reduce(away)):
        seen = ~np.isnan(away)
        clock, away = clock[seen], away[seen]
    return last_upcrossing(clock, away, levels)


def _nearing(clock: FloatArray, paths: Sequence[FloatArray], rest: int, last: int) -> FloatArray:
    """When paths come for good within some distances of their places at the finish.

    Returns
    -------
    array of shape (n_paths, n_distances)
    """
    away = np.stack([_away(path, rest, last) for path in paths])
    away[np.isnan(away)] = np.inf
    left = np.minimum.accumulate(away, axis=1)
    return last_time_above(clock, left, np.tile(_LEFT, (len(paths), 1)))


def _slowing(clock: FloatArray, speeds: FloatArray) -> FloatArray:
    """When each of some speeds first falls below shares of its peak, and last exceeds some.

    Parameters
    ----------
    speeds : array of shape (n_paths, n_frames)

    Returns
    -------
    array of shape (n_paths, n_shares)
    """
    if speeds.shape[1] == 0:
        return np.full((len(speeds), len(_SPEEDS_DOWN) + len(_LAST_SPEEDS)), np.nan)
    known = np.where(np.isnan(speeds), -np.inf, speeds)
    peak = known.max(axis=1, keepdims=True)
    peak[np.isinf(peak)] = np.nan
    falling = np.where(np.isnan(speeds), np.inf, speeds)
    falling[np.arange(speeds.shape[1]) < known.argmax(axis=1)[:, None]] = np.inf
    down = last_time_above(clock, np.minimum.accumulate(falling, axis=1), _SPEEDS_DOWN * peak)
    return np.concatenate([down, last_time_above(clock, speeds, _LAST_SPEEDS * peak)], axis=1)


def _fastest(speed: FloatArray) -> int:
    """Frame of the greatest speed that is seen, or 0."""
    if speed.size == 0:
        return 0
    peak = int(np.argmax(speed))  # which is the first NaN, if there is any
    seen = not np.isnan(speed[peak])
    return peak if seen or np.isnan(speed).all() else int(np.nanargmax(speed))


def _steady_speeds(clock: FloatArray, paths: Sequence[FloatArray], first: int) -> FloatArray:
    """Speeds from a frame on over a fixed stretch of time, which frame rate and jitter do not
    change much, shape (n_paths, n_frames - first)."""
    at = clock[first:]
    places = _sampled(clock, paths, np.concatenate([at - _STEADY, at + _STEADY]))
    way = places[len(at) :] - places[: len(at)]
    return np.ascontiguousarray(np.hypot(way[..., 0], way[..., 1]).T) / (2.0 * _STEADY)
