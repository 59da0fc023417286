"""The positions P1 to P10 of one swing and the continuous position coordinate.

Definitions (common practice; P1 and P10 in terms of the player's movement):

- P1 address: the takeaway begins. The last moment at which hands and clubhead are within 1 % of
  body height of their place at address.
- P2 shaft parallel to the ground in the takeaway, P3 lead arm parallel in the backswing.
- P4 top: the arms turn back; the end of a pause there.
- P5 lead arm parallel coming down, P6 shaft parallel coming down.
- P7 impact: the clubhead is back above its place at address, along the target line.
- P8 shaft parallel after impact, P9 trail arm parallel after impact.
- P10: the finish holds. The first moment from which the hands stay within 1 % of body height of
  where they hold.

An arm or a shaft is parallel to the ground when both its ends are equally high in the
picture, which holds face-on for a level camera; down the line one end is nearer to the camera, for
which a usual camera's share is taken off. A few thresholds look for every position; a network
learnt on golfers of several makes places all of them anew from all that is seen of the swing
(:mod:`service.analysis.events.positions.network`), which tells most where what defines them is
hidden: the first and last centimetres, the turn, the shaft without a club, the ball's place along
the line of sight. Without a club P2, P6 and P8 are marked as inferred, and so are P3, P5 and P9
where the wrist is lost and the hands tell.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from math import erf, hypot, isnan, sqrt
from typing import Final

import numpy as np

from service.analysis.events.detection import Downswing
from service.analysis.events.landmark_paths import Tracks
from service.analysis.events.level_crossings import last_time_above, last_upcrossing
from service.analysis.events.positions.network import network
from service.analysis.events.positions.onsets import (
    last_still,
    leaving_time,
    mean_place,
    rest_needed,
)
from service.analysis.events.positions.strip import strip_of
from service.analysis.pose.geometry import distance, within
from service.analysis.pose.points import Point
from service.analysis.types import BoolArray, FloatArray, Position, Reason, Source, View

# Numbers with their unit and where they are from; "judgement" is ours, checked on simulated swings.
_HANDS_AT_SHAFT_PARALLEL: Final[dict[int, float]] = {2: 0.13, 6: 0.17, 8: 0.47}
"""Height of the hands at P2, P6, P8 as a share of the way from their address or impact
height up to the height at which the arm is parallel; from simulated swings."""
_NEAR: Final[float] = 0.02
"""Body heights from a turning point at which a path has measurably left it; judgement."""
_QUIET: Final[float] = 0.10
"""Share of its peak speed below which a movement counts as at rest; judgement."""
_HOLD: Final[float] = 0.2
"""Seconds for which the hands must hold for a finish; judgement: a recoil comes later."""
_HOLD_SHARE: Final[float] = 1.2
"""The same as a share of the time from P7 to P9, so that a slow swing holds longer; judgement."""
_HELD: Final[float] = 0.025
"""Body heights within which they hold: more than jitter, less than any way on; judgement."""
_LEAST_HOLD: Final[float] = 0.05
"""Seconds of the hold that the clip must show; judgement."""
_FINISH_LOW: Final[float] = -0.05
"""Body heights against the hips above which hands in a finish are, that of a chip too."""
_QUIET_FLOOR: Final[float] = 0.08
"""Body heights a second below which hands are at rest whatever their peak; judgement."""
_ADDRESS_TO_IMPACT: Final[float] = 0.20
"""Body heights between the hands at address and at impact, at most; common practice."""
_LEAST_REST: Final[float] = 0.10
"""Seconds of rest that must be seen before a takeaway for its start to count as observed;
judgement."""
_UNSEEN_REST: Final[float] = 0.15
"""Uncertainty in seconds of a takeaway whose start may lie before the clip; judgement."""
_MOST_OBSERVED: Final[float] = 0.5
"""Largest uncertainty of a position that counts as observed, in lengths of the swing: what may lie
anywhere in it was not seen; judgement."""
_TOO_UNSURE: Final = Reason(
    "too_unsure", "The points are too unsteady or too few to tell when this position is passed."
)
_WELL_AWAY: Final[float] = 0.16
_CLUB_AWAY: Final[float] = 0.25
"""Body heights of hands and clubhead from their place at address up to which a takeaway is
looked at; judgement."""
_FINISH_NEAR: Final[FloatArray] = np.array([0.02])
"""Body heights from where the hands hold within which jitter lets them be told to be there."""
_START_SPREAD: Final[dict[View, float]] = {View.FACE_ON: 0.06, View.DOWN_THE_LINE: 0.08}
"""Uncertainty of the start as a share of the backswing, where no rule says more; judgement."""
_SAME_TURN: Final[float] = 0.05
"""Seconds between leaving and arriving below which the hands turned without a pause; judgement."""
_CROSSING: Final[float] = 0.004
"""Uncertainty in seconds of a crossing however steep: the smoothing of a fast movement."""
_ARM_ERROR: Final[Mapping[View, float]] = {View.FACE_ON: 0.017, View.DOWN_THE_LINE: 0.027}
_SHAFT_ERROR: Final[Mapping[View, float]] = {View.FACE_ON: 0.030, View.DOWN_THE_LINE: 0.050}
"""One standard deviation of the difference in height of the ends of an arm and of the shaft, body
heights: what four makes of simulated golfers leave in slow swings, cameras at 3.2 to 6 m."""
_SAG: Final[Mapping[int, float]] = {2: 0.045, 3: -0.007, 6: 0.040, 9: 0.010}
"""Down the line an arm or a shaft points at the camera or away from it, so that one end is nearer.
Body heights by which the end that should be level looks lower than it is, for a camera hip-high to
chest-high at 3.2 to 6 m: what is nearer than the rest and below the camera looks lower (the shaft
at P2 and P6), what is nearer and above it higher (P3), what is farther and above it lower (P9).
Sizes as in simulated swings; 1.1 m high and 4.5 m away would make them 0.05, -0.02, 0.05, 0.02 for
rods straight along the line of sight."""
_ARMS: Final[Mapping[int, tuple[Point, Point]]] = {
    3: (Point.LEAD_SHOULDER, Point.LEAD_WRIST),
    5: (Point.LEAD_SHOULDER, Point.LEAD_WRIST),
    9: (Point.TRAIL_SHOULDER, Point.TRAIL_WRIST),
}
"""The arm that is parallel to the ground at a position."""
_BY_HANDS: Final[float] = 0.012
"""Uncertainty in seconds, beside that of a crossing, of an arm whose wrist is lost; simulated
swings."""
_BY_CLUB: Final[frozenset[int]] = frozenset({2, 6, 8})
"""Positions that the shaft itself shows where it is seen."""
_FARTHEST: Final[Mapping[int, float]] = {**dict.fromkeys(range(1, 11), 0.5), 7: 0.04}
"""How far from where thresholds place it a position may be moved, in lengths of the swing, and how
unsure the network may be for its word to count. P7's was set on annotated clips whose hidden arms
lie anywhere: the hands are lowest near the ball whatever the footage. The rest is judgement, hardly
ever reached."""
_SUREST_FIRST: Final[tuple[int, ...]] = (4, 7, 5, 3, 9, 6, 8, 1, 2, 10)
_APART: Final[float] = 1e-3
"""Seconds between two positions, at least; so that they stay in order."""
_SHAFT_LAST: Final[list[Point]] = [Point.CLUBHEAD, Point.SHAFT_MID]
_SHAFT_FIRST: Final[list[Point]] = [Point.GRIP_END, Point.GRIP]
_AT_BALL: Final[float] = 0.1
"""Seconds before the takeaway over which the clubhead's place behind the ball is taken."""
_BEFORE_LOW: Final[float] = 0.25
_AFTER_LOW: Final[float] = 0.15
"""Seconds before and after the hands' low point between which impact is looked for; common
practice: the club takes some 0.1 s from lead arm parallel to the ball."""


@dataclass(frozen=True)
class _Found:
    """A moment in seconds with one standard deviation."""

    time: float
    uncertainty: float
    inferred: bool = False


@dataclass(frozen=True)
class _Scene:
    """What the searches for the single positions share."""

    points: FloatArray
    tracks: Tracks
    swing: Downswing
    view: View
    noise: FloatArray
    frame: float
    """Seconds between frames."""

    @cached_property
    def top(self) -> _Found:
        """Where the hands turn round."""
        return _top(self)

    @cached_property
    def rest(self) -> int | None:
        """Last frame before the top at which the hands rest at address."""
        return _last_rest(self, self.top.time)

    @cached_property
    def still(self) -> int | None:
        """Last frame before any of the body moves off."""
        if self.rest is None:
            return None
        return last_still(self.points, self.tracks, self.rest, self.top.time)

    @cached_property
    def clubhead(self) -> FloatArray | None:
        """Path of the clubhead, shape (n_frames, 2); ``None`` where it is never seen."""
        path = self.points[:, Point.CLUBHEAD]
        return None if np.isnan(path[:, 0]).all() else path

    @cached_property
    def shaft_height(self) -> FloatArray | None:
        """How much higher the tip of the shaft is than its butt, shape (n_frames,); ``None`` where
        that is never seen."""
        if np.isnan(self.points[:, _SHAFT_LAST, 0]).all():
            return None
        ends = _shaft_ends(self.points)
        return np.asarray(ends[:, 1, 1] - ends[:, 0, 1])

    def window(self, first: float | None, last: float | None) -> slice:
        """Frames between two times, one frame of margin on either side."""
        times = self.tracks.times
        low = self.swing.start if first is None else int(times.searchsorted(first)) - 1
        high = self.swing.end if last is None else int(times.searchsorted(last))
        return slice(max(low, 0), min(high, len(times) - 1) + 1)


def find_positions(
    points: FloatArray,
    tracks: Tracks,
    swing: Downswing,
    view: View,
    noise: FloatArray,
    *,
    refined: bool = True,
) -> tuple[Position, ...]:
    """Find P1 to P10.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    noise : array of shape (n_points,)
        One standard deviation of the error of ``points`` on one axis.
    refined : bool
        False leaves every position where thresholds place it, without the network of
        :mod:`service.analysis.events.positions.network`.

    Returns
    -------
    tuple of ten positions in order; a position that the clip does not show is there with
    the reason.
    """
    scene = _Scene(points, tracks, swing, view, noise, tracks.frame)
    found = _search(scene)
    if refined:
        found = _in_order(_refined(scene, found))
    frames = _frames(scene.tracks.times, found)
    return tuple(_as_position(scene, number, found, frames) for number in range(1, 11))


def _frames(clock: FloatArray, found: Mapping[int, _Found | None]) -> dict[int, float]:
    """Fractional frames of the positions found, by number."""
    times = {number: moment.time for number, moment in found.items() if moment is not None}
    frames = np.interp(list(times.values()), clock, np.arange(len(clock)))
    return dict(zip(times, frames.tolist(), strict=True))


def _search(scene: _Scene) -> dict[int, _Found | None]:
    found: dict[int, _Found | None] = {}
    found[4], top = scene.top, scene.top.time
    found[1] = _takeaway(scene, top)
    found[7] = _impact(scene, found[1])
    start = found[1].time if found[1] else None
    impact = found[7].time if found[7] else None
    found[3] = _arm_parallel(scene, 3, start, top)
    found[5] = _arm_parallel(scene, 5, top, impact)
    found[9] = _arm_parallel(scene, 9, impact, None) if found[7] else None
    found[2], found[6], found[8] = (_shaft_parallel(scene, number, found) for number in (2, 6, 8))
    found[10] = _finish(scene, found[7], found[9])
    return _in_order(found)


def _refined(scene: _Scene, found: dict[int, _Found | None]) -> dict[int, _Found | None]:
    times = {k: m.time for k, m in found.items() if m is not None}
    strip = strip_of(scene.points, scene.tracks, scene.view, scene.noise, times)
    if strip is None:
        return found
    told = network().place(strip, scene.view, scene.tracks.frame)
    better, clock = dict(found), scene.tracks.times
    for number, moment in found.items():
        if moment is None or not to_refine(number, inferred=moment.inferred):
            continue
        told_by = _Found(
            float(told.times[number - 1]), float(told.spread[number - 1]), moment.inferred
        )
        farthest = _FARTHEST[number] * strip.length
        if told_by.uncertainty <= farthest:  # else the network doesn't know its way
            better[number] = _held_near(told_by, moment, farthest, clock)
    return better


def _held_near(told: _Found, placed: _Found, farthest: float, clock: FloatArray) -> _Found:
    """What the network tells, no farther than so many seconds from where thresholds place it and
    within the clip; as much less sure as that takes away."""
    first = max(placed.time - farthest, float(clock[0]))
    last = min(placed.time + farthest, float(clock[-1]))
    time = within(told.time, first, last)
    return replace(told, time=time, uncertainty=hypot(told.uncertainty, told.time - time))


def to_refine(number: int, *, inferred: bool) -> bool:
    """Whether the network may place a position that thresholds have found: not what the shaft
    itself shows, nor a start that may lie before the clip."""
    return inferred if number in _BY_CLUB else not (inferred and number == 1)


def _in_order(found: dict[int, _Found | None]) -> dict[int, _Found | None]:
    """Give up positions that don't come after the one before; the surest are kept first."""
    kept: dict[int, float] = {}
    for number in _SUREST_FIRST:
        moment = found[number]
        if moment is None:
            continue
        apart = [(moment.time - time) * (1 if number > k else -1) for k, time in kept.items()]
        if not apart or min(apart) > _APART:
            kept[number] = moment.time
    return {k: moment if k in kept else None for k, moment in found.items()}


def _top(scene: _Scene) -> _Found:
    """Where the hands turn round: they have stopped going back and not yet started down.

    The turn is measured along the direction in which the hands come down. With a pause
    at the top P4 is its end, where the downswing starts.
    """
    tracks, swing = scene.tracks, scene.swing
    last = swing.end if swing.low is None else swing.low
    path = tracks.path
    fall = path[swing.top : last + 1]
    half_way = fall[0, 1] - 0.4 * (fall[0, 1] - np.fmin.reduce(fall[:, 1]))
    below = np.flatnonzero(fall[:, 1] <= half_way)
    stop = swing.top + int(below[0]) if below.size else last
    towards = path[stop] - path[swing.top]
    along = (path - path[swing.top]) @ (towards / np.hypot(*towards))
    far = np.flatnonzero(along[swing.start : swing.top + 1] > 0.5 * along[stop])
    first = swing.start + (int(far[-1]) if far.size else 0)
    turn = first + _lowest_frame(along[first : stop + 1])
    depth = along - along[turn]
    down = _onset(tracks.times, depth, turn, stop)
    back = _onset(tracks.times, depth, turn, first)
    if down is None:
        return _Found(float(tracks.times[turn]), scene.frame)
    if back is not None and down - back < _SAME_TURN:
        return _Found(0.5 * (down + back), 0.25 * scene.frame + 0.25 * abs(down - back) + 0.004)
    before_clip = max(float(tracks.times[0]) - down, 0.0)
    return _Found(down + before_clip, 0.5 * scene.frame + 0.008 + before_clip)


def _takeaway(scene: _Scene, top: float) -> _Found | None:
    """Where the hands leave address for good; ``None`` if the clip starts in motion."""
    tracks = scene.tracks
    last = len(tracks.times) - 1  # across a gap in the film the top can come out beyond its end
    top_frame = min(max(int(np.searchsorted(tracks.times, top)), scene.swing.start), last)
    rest = scene.still
    if rest is None:
        return None
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
    gone = distance(path, mean_place(path, begin, rest))
    still = (clock >= start - _LEAST_REST) & (clock <= start)
    if start - clock[0] < _LEAST_REST or (gone[still] > 3 * _NEAR).any():
        # No rest is seen before it: the takeaway may well have begun before the clip.
        return _Found(max(start, float(clock[0])), _UNSEEN_REST, inferred=True)
    spread = _START_SPREAD[scene.view] * (top - start)
    return _Found(start, hypot(0.5 * scene.frame, spread))


def _well_away(
    clock: FloatArray, path: FloatArray, begin: int, rest: int, top: int, far: float
) -> float:
    """When a path is last seen nearer than ``far`` to its place at address, NaN if never."""
    part = slice(begin, top + 1)
    clock, away = clock[part], distance(path[part], mean_place(path, begin, rest))
    seen = ~np.isnan(away)
    return float(last_upcrossing(clock[seen], away[seen], np.array([far]))[0])


def _last_rest(scene: _Scene, top: float) -> int | None:
    """Last frame before the top at which the hands rest at address."""
    tracks = scene.tracks
    top_frame = max(int(np.searchsorted(tracks.times, top)), scene.swing.start)
    speeds = tracks.speed[scene.swing.start : top_frame + 1]
    if np.isnan(speeds).all():
        return None
    slow = tracks.speed < max(_QUIET * float(np.fmax.reduce(speeds)), _QUIET_FLOOR)
    resting = np.flatnonzero((slow & _hands_hang(scene))[:top_frame])
    return int(resting[-1]) if resting.size else None


def _hands_hang(scene: _Scene) -> BoolArray:
    """Frames in which the hands are low and about where they pass the ball, (n_frames,)."""
    tracks, swing = scene.tracks, scene.swing
    low = swing.start if swing.low is None else swing.low
    path = tracks.path
    reach = tracks.height[low] + 0.35 * (tracks.height[swing.top] - tracks.height[low])
    near = distance(path, path[low]) <= _ADDRESS_TO_IMPACT
    return np.asarray((tracks.height <= reach) & near)


def _impact(scene: _Scene, start: _Found | None) -> _Found | None:
    """The clubhead back at the ball, or where that is not seen the hands at their lowest.

    Down the line the clubhead passes the ball along the line of sight. The hands' low point is a
    first guess only: a handle that rises through impact is lowest before it, and the rule for P7
    goes by when hands and arms are back where they were.
    """
    low = scene.swing.low
    if low is None:
        return None
    by_club = _impact_by_club(scene, start) if scene.view is View.FACE_ON else None
    return by_club or _lowest(scene, scene.tracks.height, slice(max(low - 2, 0), low + 3))


def _impact_by_club(scene: _Scene, start: _Found | None) -> _Found | None:
    head, times, low = scene.clubhead, scene.tracks.times, scene.swing.low
    if start is None or low is None or head is None:
        return None
    resting = (times >= start.time - _AT_BALL) & (times <= start.time) & ~np.isnan(head[:, 0])
    ball = np.mean(head[resting, 0]) if resting.any() else np.interp(start.time, times, head[:, 0])
    first, last = times[low] - _BEFORE_LOW, times[low] + _AFTER_LOW
    # At the top of a long swing the clubhead passes over the ball too.
    return _crossing(scene, head[:, 0] - ball, first, last, rising=True, last=True)


def _lowest(scene: _Scene, height: FloatArray, near: slice) -> _Found | None:
    """Sub-frame time of the lowest point."""
    window = height[near]
    if np.isnan(window).all():
        return None
    time = _lowest_time(scene.tracks.times, height, near.start + _lowest_frame(window))
    return _Found(time, 0.4 * scene.frame + 0.008)


def _lowest_time(clock: FloatArray, height: FloatArray, k: int) -> float:
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


def _lowest_frame(values: FloatArray) -> int:
    """Frame of the least value that is seen, of some of which one is."""
    return int(np.where(np.isnan(values), np.inf, values).argmin())


def _arm_parallel(
    scene: _Scene, number: int, first: float | None, last: float | None
) -> _Found | None:
    """Where the arm that defines a position is level.

    Where its wrist is lost about that moment, both hands being on one handle, the height of the
    hands tells instead, and the position is inferred.
    """
    ends, sag = _ARMS[number], _sag(scene, number)

    def level(height: FloatArray) -> _Found | None:
        rising, late = number != 5, number == 3
        return _crossing(scene, height + sag, first, last, rising=rising, last=late)

    seen = level(_arm_height(scene, *ends))
    if seen is not None:
        return seen
    told = level(_arm_height_by_hands(scene, *ends))
    if told is None:
        return None
    return _Found(told.time, hypot(told.uncertainty, _BY_HANDS), inferred=True)


def _shaft_parallel(scene: _Scene, number: int, found: dict[int, _Found | None]) -> _Found | None:
    before, after = {2: (1, 3), 6: (5, 7), 8: (7, 9)}[number]
    first, last = found[before], found[after]
    rising = number != 6
    if first is None and last is None:
        return None
    by_club = None
    if scene.shaft_height is not None:
        by_club = _crossing(
            scene,
            scene.shaft_height + _sag(scene, number),
            first.time if first else None,
            last.time if last else None,
            rising=rising,
            height_error=_SHAFT_ERROR,
        )
    if by_club is not None or first is None or last is None:
        return by_club
    ends = np.interp([first.time, last.time], scene.tracks.times, scene.tracks.height)
    share = _HANDS_AT_SHAFT_PARALLEL[number]
    level = (
        ends[1] + (1 - share) * (ends[0] - ends[1])
        if rising
        else ends[0] + (1 - share) * (ends[1] - ends[0])
    )
    hands = _crossing(
        scene, scene.tracks.height - level, first.time, last.time, rising=rising, last=not rising
    )
    if hands is None:
        return None
    spread = hands.uncertainty + 0.12 * (last.time - first.time)
    return _Found(hands.time, spread, inferred=True)


def _finish(scene: _Scene, impact: _Found | None, arm: _Found | None) -> _Found | None:
    """Where the hands come to hold after the swing through."""
    if impact is None:
        return None
    after = arm or impact
    hold = max(_HOLD, _HOLD_SHARE * (after.time - impact.time))
    clock, path = scene.tracks.times, scene.tracks.path
    first = int(np.searchsorted(clock, after.time))
    seen = ~np.isnan(path[:, 0] + path[:, 1])
    if np.count_nonzero(seen) < 2 or first >= len(clock):
        return None
    later = clock[first:, None] + hold * np.array([0.0, 1.0 / 3.0, 2.0 / 3.0, 1.0])
    x, y = (np.interp(later, clock[seen], path[seen, k]) for k in (0, 1))
    strays = np.maximum.reduce(np.hypot(x - x[:, :1], y - y[:, :1]), axis=1)
    held = max(_HELD, 3.0 * float(scene.noise[Point.LEAD_WRIST]))
    holds = np.flatnonzero((strays < held) & (scene.tracks.height[first:] > _FINISH_LOW))
    if holds.size == 0 or clock[-1] - clock[first + holds[0]] < _LEAST_HOLD:
        return None
    rest = first + int(holds[0])
    home = np.array([0.5 * np.add.reduce(each[holds[0], 2:]) for each in (x, y)])
    left = distance(path, home)
    away = last_time_above(clock[first : rest + 1], left[first : rest + 1], _FINISH_NEAR)
    time = float(clock[rest]) if np.isnan(away[0]) else float(away[0])
    return _Found(time, scene.frame + 0.03)


def _as_position(
    scene: _Scene, number: int, found: dict[int, _Found | None], frames: Mapping[int, float]
) -> Position:
    moment = found[number]
    if moment is None:
        return Position(number, Source.NOT_FOUND, reason=_why_missing(scene, number, found))
    unsure = moment.uncertainty > _MOST_OBSERVED * _length(found)
    return Position(
        number,
        Source.INFERRED if moment.inferred or unsure else Source.OBSERVED,
        time=moment.time,
        frame=frames[number],
        uncertainty=moment.uncertainty,
        confidence=_confidence(moment.uncertainty),
        reason=_TOO_UNSURE if unsure else None,
    )


def _length(found: Mapping[int, _Found | None]) -> float:
    """Seconds from the first to the last of the positions found."""
    times = [moment.time for moment in found.values() if moment is not None]
    return max(times) - min(times)


def _confidence(uncertainty: float) -> float:
    """Chance that the truth lies within 33 ms, one frame of ordinary video."""
    return float(erf(0.033 / (uncertainty * sqrt(2.0))))


def _why_missing(scene: _Scene, number: int, found: dict[int, _Found | None]) -> Reason:
    if number <= 3 and found[1] is None:
        return Reason("clip_starts_late", "The clip starts after this position.")
    if (number >= 7 and scene.swing.low is None) or number == 10:
        return Reason("clip_stops_early", "The clip stops before this position.")
    needed = {3: Point.LEAD_WRIST, 5: Point.LEAD_WRIST, 9: Point.TRAIL_WRIST}.get(number)
    if needed is not None and np.isnan(scene.points[:, needed]).all():
        return Reason("joints_not_seen", "The arm that defines this position is not seen.")
    return Reason("not_reached", "The swing does not clearly reach this position in the clip.")


def _sag(scene: _Scene, number: int) -> float:
    """How much lower the far end of an arm or shaft looks than it is at a position."""
    return _SAG.get(number, 0.0) if scene.view is View.DOWN_THE_LINE else 0.0


def _arm_height(scene: _Scene, shoulder: Point, wrist: Point) -> FloatArray:
    return np.asarray(scene.points[:, wrist, 1] - scene.points[:, shoulder, 1])


def _arm_height_by_hands(scene: _Scene, shoulder: Point, wrist: Point) -> FloatArray:
    """The same where the wrist is lost, from the middle of the hands; shape (n_frames,).

    The wrist keeps its height against the hands, and the shoulder its way, from where it is seen
    to where it is seen again.
    """
    clock, hands = scene.tracks.times, scene.tracks.hands[:, 1]
    above = _bridged(clock, scene.points[:, wrist, 1] - hands)
    return hands + above - _bridged(clock, scene.points[:, shoulder, 1])


def _bridged(clock: FloatArray, values: FloatArray) -> FloatArray:
    """Values of shape (n_frames,) with straight lines over what is missing; NaN if all is."""
    seen = ~np.isnan(values)
    return np.interp(clock, clock[seen], values[seen]) if seen.any() else values


def _shaft_ends(points: FloatArray) -> FloatArray:
    """Butt and tip of the shaft, shape (n_frames, 2, 2); the best seen of each end."""
    ends = []
    for choices in (_SHAFT_FIRST, _SHAFT_LAST):
        end = points[:, choices[0]]
        for other in choices[1:]:
            end = np.where(np.isnan(end), points[:, other], end)
        ends.append(end)
    return np.stack(ends, axis=1)


def _crossing(
    scene: _Scene,
    signal: FloatArray,
    first: float | None,
    end: float | None,
    *,
    rising: bool,
    last: bool = False,
    height_error: Mapping[View, float] = _ARM_ERROR,
) -> _Found | None:
    """Time at which a signal passes zero, by the straight line between two samples."""
    window = scene.window(first, end)
    times, value = scene.tracks.times[window], signal[window] * (1.0 if rising else -1.0)
    hits = ((value[:-1] < 0) & (value[1:] >= 0)).nonzero()[0]
    if hits.size == 0:
        return None
    k = int(hits[-1] if last else hits[0])
    slope = (value[k + 1] - value[k]) / (times[k + 1] - times[k])
    time = float(times[k] - value[k] / slope)
    known = 0.1 * scene.frame + _CROSSING
    return _Found(time, hypot(known, float(height_error[scene.view] / slope)))


def _onset(
    times: FloatArray,
    way: FloatArray,
    rest: int,
    away: int,
    near: float = _NEAR,
) -> float | None:
    """When a path left rest, going from frame ``rest`` toward frame ``away``.

    A movement that starts from rest grows with the square of time, so that the time it
    takes from ``near`` to four times ``near`` equals the time it took to reach ``near``.
    """
    step = 1 if away >= rest else -1
    frames = np.arange(rest, away + step, step)
    soon, later = last_upcrossing(times[frames], way[frames], np.array([near, 4 * near]))
    onset = float(2 * soon - later)
    return None if isnan(onset) else onset
