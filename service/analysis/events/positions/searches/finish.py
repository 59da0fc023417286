"""P10: where the hands hold in the finish, or turn back."""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot, isnan
from typing import Final, NamedTuple

import numpy as np

from service.analysis.events.positions.searches.onsets import Onset, leaving_time, mean_place
from service.analysis.events.positions.searches.scene import Found, Scene
from service.analysis.pose.geometry import distance
from service.analysis.pose.points import Point
from service.analysis.types import BoolArray, FloatArray, View

_HOLD: Final[float] = 0.2
"""Seconds for which the hands must hold for a finish; judgement: a recoil comes later."""
_HOLD_SHARE: Final[float] = 1.2
"""The same as a share of the time from P7 to P9, so that a slow swing holds longer; judgement."""
_HELD: Final[float] = 0.025
"""Body heights within which they hold: more than jitter, less than any way on; judgement."""
_TURN: Final[float] = 0.5
"""Share of the time of holding before and after a moment over which hands are told to turn back."""
_TURNED: Final[float] = -0.5
"""Cosine between the ways before and after below which they do: by more than 120 degrees;
judgement."""
_MOMENTS: Final[FloatArray] = np.array([-_TURN, 0.0, 1.0 / 3.0, _TURN, 2.0 / 3.0, 1.0])
"""Times of holding after a moment at which it is looked where the hands are."""
_LATER: Final = np.array([2, 4, 5])
"""Those of them at which they must still be there."""
LEAST_HOLD: Final[float] = 0.05
"""Seconds of the hold that the clip must show; judgement."""
_PACED: Final[float] = 0.5
"""Times of holding before the last frame over which it is told how fast the hands still go."""
_FINISH_LOW: Final[float] = -0.05
"""Body heights against the hips above which hands in a finish are, that of a chip too."""
_AT_HOME: Final[tuple[float, float]] = (0.5, 1.0)
"""Times of holding after the hands first hold between which their mean place is where they hold."""
_HALVES: Final[FloatArray] = np.array([-0.5, 0.0, 0.5, 1.0, 1.5])
"""Times of holding after it between which lie the way before, that place and where they go on."""
_STILL_COMING: Final[float] = 0.002
"""Body heights by which that place must not go on from one half of the holding to the next, or the
hands are still on their last way; judgement, as are the next three."""
_LAST_WAY: Final[float] = 0.7
"""Cosine between the way before and the way on from which they come rather than leave."""
_MOST_LOOKS: Final[int] = 4
"""Halves of the holding by which the place is looked for later, at most."""
_TURNING: Final[float] = 0.1
"""Times of holding to either side of a turn over which their mean place is where they turn."""
_ON_THE_WAY: Final[Mapping[View, float]] = {View.FACE_ON: 0.09, View.DOWN_THE_LINE: 0.1}
"""Body heights from there at which the hands are still on their way: farther off it winds round the
body and slows down by no one power of time; judgement, checked on golfers of all makes."""
_STANDS: Final[float] = 0.05
"""Body heights within which the lead ankle stays from impact to the end where the picture stands
still: of simulated and captured players, whose foot rolls over, 95 in 100 stay."""
_ABOUT: Final[float] = 0.05
"""Seconds to either side of a moment over which the mean is that ankle's place."""
_UNSEEN_WAY: Final[Mapping[View, float]] = {View.FACE_ON: 0.07, View.DOWN_THE_LINE: 0.35}
"""Uncertainty of the finish as a share of the time since impact, beside that of the curve: what
golfers of several makes and motion capture leave, whose last way is along the line of sight. Face
on two in three are off by less than 0.05 of that time and nineteen in twenty by less than 0.12,
rehearsals no more of it than swings at full speed."""
_NO_WAY: Final[float] = 0.35
"""Seconds by which a finish is uncertain to which no way is seen; judgement."""
_ROUNDING: Final[float] = 1e-6
"""Seconds by which frames of a clip that begins at another time may seem later."""
_CURVE: Final[float] = 2.0
"""By how many spreads of the finish among curves that fit it is uncertain; likewise."""


class _Stop(NamedTuple):
    """The frame from which hands stop, the times of holding after it between which their mean place
    is where they do, and whether the clip shows that they do."""

    frame: int
    there: tuple[float, float]
    shown: bool


def find_finish(scene: Scene, impact: Found | None, arm: Found | None) -> Found | None:
    """Where the hands come to hold after the swing through, or turn back.

    It is not shown where the clip stops before that.
    """
    if impact is None:
        return None
    after = arm or impact
    hold = max(_HOLD, _HOLD_SHARE * (after.time - impact.time))
    clock, path = scene.tracks.times, _way_through(scene, impact.time, hold)
    first = int(np.searchsorted(clock, after.time))
    stop = _stop(scene, path, first, hold, turns_count=arm is not None)
    if stop is None:
        return None
    rest = stop.frame
    about = clock[rest] + hold * np.array(stop.there) - _ROUNDING
    begin, end = (int(k) for k in clock.searchsorted(about))
    begin = min(begin, len(clock) - 1)
    home = begin, min(max(end, begin + 1), len(clock) - 1)
    reached = _arrival(clock, path, rest, home, scene.view)
    if isnan(reached.time):
        return Found(float(clock[rest]), hypot(scene.frame, _NO_WAY), shown=stop.shown)
    unseen = _UNSEEN_WAY[scene.view] * (reached.time - impact.time)
    unsure = hypot(0.5 * scene.frame, _CURVE * reached.spread, unseen)
    return Found(reached.time, unsure, shown=stop.shown)


def _stop(
    scene: Scene, path: FloatArray, first: int, hold: float, *, turns_count: bool
) -> _Stop | None:
    """Where hands on a path stop from a frame on, holding for so many seconds.

    A clip that stops does not stop the hands: after it they go on as they last did. Where they then
    hold nowhere, the last frames tell where they may stop.

    Parameters
    ----------
    turns_count
        Whether they may turn back: before P9, seen down the line, hands turn back in the picture
        that go on in space.
    """
    clock = scene.tracks.times
    seen = (~np.isnan(path[:, 0] + path[:, 1])).nonzero()[0]
    if len(seen) < 2 or first >= len(clock):
        return None
    held = max(_HELD, 3.0 * float(scene.noise[Point.LEAD_WRIST]))
    high = scene.tracks.height[first:] > _FINISH_LOW
    later, known = (
        clock[first:, None] + hold * _MOMENTS,
        (clock.take(seen), path.take(seen, axis=0)),
    )
    for over, shown in ((_PACED * hold, True), (0.0, False)):
        x, y = _going_on(*known, later, over)
        holds = (high & _stays(x, y, held)).nonzero()[0]
        turns = (high & turns_count & _turns_back(x, y, 0.5 * held)).nonzero()[0]
        if turns.size and not (holds.size and holds[0] <= turns[0]):
            turn = _farthest_on(clock, path, first + int(turns[0]), hold)
            return _Stop(turn, (-_TURNING, _TURNING), shown)
        if holds.size and clock[-1] - clock[first + holds[0]] >= LEAST_HOLD:
            return _Stop(_settled(clock, path, first + int(holds[0]), hold), _AT_HOME, shown)
    return None


def _farthest_on(clock: FloatArray, path: FloatArray, told: int, hold: float) -> int:
    """The frame at which hands turn back: up to which they go on the way that they came.

    That they turn back is told from where they are some time later, which is long before they do
    where a recoil is quick and the swing slow.

    Parameters
    ----------
    told : int
        First frame from which it is told.

    >>> clock = np.arange(7.0)
    >>> path = np.array([[0.0, 0], [3, 0], [5, 0], [6, 0], [4, 0], [1, 0], [-1, 0]])
    >>> _farthest_on(clock, path, 2, 6.0)
    3
    """
    moments = clock[told] + hold * np.array([-_TURN, _TURN]) - _ROUNDING
    before, after = clock.searchsorted(moments).tolist()
    way = path[told : after + 1] - path[told]
    on = way.dot(path[told] - path[before])
    return told if np.isnan(on).all() else told + int(np.nanargmax(on))


def _going_on(
    clock: FloatArray, path: FloatArray, at: FloatArray, over: float
) -> tuple[FloatArray, FloatArray]:
    """Where a path is at some times, x and y; after its last frame where it goes on to at the pace
    of its last so many seconds, or stays where these are none.

    >>> clock, path = np.array([0.0, 1.0]), np.array([[0.0, 0.0], [2.0, 0.0]])
    >>> x, y = _going_on(clock, path, np.array([3.0]), 1.0)
    >>> x.tolist(), y.tolist()
    ([6.0], [0.0])
    """
    last = slice(max(int(clock.searchsorted(clock[-1] - over)), 0), None)
    after = clock[last] - clock[-1]
    about = after - after.mean()
    pace = about.dot(path[last]) / max(float(about.dot(about)), _ROUNDING)
    beyond = np.maximum(at - clock[-1], 0.0)
    x, y = (np.interp(at, clock, path[:, k]) + pace[k] * beyond for k in (0, 1))
    return x, y


def _settled(clock: FloatArray, path: FloatArray, rest: int, hold: float) -> int:
    """The frame from which hands hold that come to rest slowly: where they first stay near they are
    still on their last way, and their mean place there is short of where they stop.

    Parameters
    ----------
    rest : int
        Frame from which they stay near.
    hold : float
        Seconds for which they do.
    """
    for _ in range(_MOST_LOOKS):
        moments = clock[rest] + hold * _HALVES - _ROUNDING
        edges = [int(k) for k in clock.searchsorted(moments)]
        if edges[-1] >= len(clock):
            break
        before, here, later = (mean_place(path, *edges[k : k + 2]) for k in (0, 2, 3))
        came, goes = here - before, later - here
        on = float(np.hypot(*goes))
        still_coming = came.dot(goes) > _LAST_WAY * on * np.hypot(*came)
        if not (still_coming and _STILL_COMING < on < _HELD):  # nor where they are not seen
            break
        rest = edges[2]
    return rest


def _way_through(scene: Scene, impact: float, hold: float) -> FloatArray:
    """Path of the hands that is looked at, shape (n_frames, 2).

    Face on it is that in the picture: hips that go on over the lead foot when the hands have
    stopped would move them. Where the lead ankle does not stay either, the camera goes along with
    the player or the ball, and hands are told against the hips, as they are down the line.
    """
    tracks, clock = scene.tracks, scene.tracks.times
    if scene.view is not View.FACE_ON:
        return tracks.path
    moments = np.minimum((impact, impact + hold, impact + 2.0 * hold, np.inf), clock[-1] - _ABOUT)
    about = clock.searchsorted(moments[:, None] + np.array([-_ABOUT, _ABOUT])).tolist()
    stood, *later = (mean_place(tracks.ankles[:, 0], *frames) for frames in about)
    stands = all(float(np.hypot(*(place - stood))) <= _STANDS for place in later)
    return tracks.hands if stands else tracks.path


def _arrival(
    clock: FloatArray, path: FloatArray, rest: int, home: tuple[int, int], view: View
) -> Onset:
    """When a path comes to its mean place in some frames, as near as :func:`leaving_time` has it:
    when it leaves that, with the clock turned back.

    Face on its last way bends, as hands wind round the body; down the line that is lost along the
    line of sight.
    """
    begin, end = home
    away = distance(path[: rest + 1], mean_place(path, begin, end))
    on_its_way = np.flatnonzero(away > _ON_THE_WAY[view])
    if not on_its_way.size:
        return Onset(float("nan"), float("nan"))
    last = len(clock) - 1
    until = -float(clock[on_its_way[-1]])
    bends = view is View.FACE_ON
    left = leaving_time(-clock[::-1], path[::-1], (last - end, last - begin), until, bends=bends)
    return Onset(-left.time, left.spread)


def _stays(x: FloatArray, y: FloatArray, near: float) -> BoolArray:
    """Whether hands stay nearer than so much for the time of holding, shape (n,).

    ``x`` and ``y`` are where they are at :data:`_MOMENTS`, of shape (n, 6).
    """
    across, up = x[:, _LATER] - x[:, 1:2], y[:, _LATER] - y[:, 1:2]
    return np.asarray(np.maximum.reduce(across * across + up * up, axis=1) < near * near)


def _turns_back(x: FloatArray, y: FloatArray, least: float) -> BoolArray:
    """Whether hands go at least so far before and after a moment, and back, shape (n,)."""
    come_x, come_y = x[:, 1] - x[:, 0], y[:, 1] - y[:, 0]
    go_x, go_y = x[:, 3] - x[:, 1], y[:, 3] - y[:, 1]
    before = np.sqrt(come_x * come_x + come_y * come_y)
    after = np.sqrt(go_x * go_x + go_y * go_y)
    back = come_x * go_x + come_y * go_y < _TURNED * before * after
    return np.asarray(back & (np.minimum(before, after) > least))
