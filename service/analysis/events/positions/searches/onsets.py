"""When a movement that starts from rest has covered a small way, told from all its first frames.

The first centimetres are lost in the jitter of any one frame. From rest a movement grows with some
power of time: with the square where the force sets in at once, with the third or fourth where it
grows from nothing. Each such curve is fitted to the way covered, rest included, and the moment is
the mean over the curves, each weighted by how well it fits.
"""

from __future__ import annotations

from functools import lru_cache
from math import hypot, isfinite, isnan, sqrt
from typing import Final, NamedTuple

import numpy as np

from service.analysis.events.landmark_paths import Tracks
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray

IN_PLACE: Final[float] = 0.01
"""Body heights from its place within which a hand or the club is still there: some 2 cm, which is
what P1 and P10 are defined by; judgement."""
_SURROUNDINGS: Final[float] = 0.02
"""Body heights from its place up to which a way that bends farther off is taken for straight;
judgement."""
_JOINT_LEVEL: Final[float] = 0.02
"""Share of the way points together are on at which they have left their places; judgement."""
_LAST: Final[int] = 3
"""Frames whose mean is where points are going; judgement."""
_REST: Final[float] = 0.25
"""Seconds of rest, at least, that an onset is told against; judgement."""
_REST_SHARE: Final[float] = 0.4
"""The same as a share of the movement's time, so that a slow start has as much; judgement."""
_POWERS: Final[FloatArray] = np.array((1.5, 2.0, 3.0, 4.0))
"""Powers of time: 1.5 faster than any muscle sets in, 4 slower than a smooth (minimum-jerk) start's
3; T. Flash and N. Hogan, J. Neurosci. 5 (1985) 1688."""
_START_SHARES: Final[FloatArray] = np.linspace(0.0, 1.0, 32)
"""Moments of start that are tried, shares of the time up to the last frame but one."""
_ROOTS: Final[FloatArray] = np.repeat(1.0 / _POWERS, len(_START_SHARES))
"""Of each curve, in the order of powers and starts."""
_UNSEEN_START: Final[float] = 0.4
_SEEN_START: Final[float] = 0.25
"""Shares of the backswing seen, before and after the hands are last seen to rest, between which it
is looked for the first of any movement."""
_AT_ADDRESS: Final[float] = 0.12
"""Seconds of rest whose mean is the place at address."""
_BODY: Final = np.array(
    [
        p
        for p in Point
        if Point.LEAD_SHOULDER <= p <= Point.TRAIL_WRIST or Point.LEAD_HIP <= p <= Point.TRAIL_KNEE
    ]
)
"""Joints that leave address together: arms, trunk and knees."""
_IN_TURN: Final = np.tile([0, 1], len(_BODY))
_FINENESS: Final[float] = 1e12
"""Steps in which moments of a movement are told; the clock of a clip is not surer."""
_FEWEST: Final[int] = 5
"""Frames that a fit needs."""
_MOST: Final[int] = 40
"""Samples of a fit, at most; more are averaged, which loses nothing of so slow a movement."""
_LEAST_NOISE: Final[float] = 0.002
"""Body heights; no path is trusted to be better known than that."""


class Onset(NamedTuple):
    """When a movement has covered a small way and one standard deviation of that among the curves
    that fit, seconds; NaN where it can't be told."""

    time: float
    spread: float


_UNTOLD: Final = Onset(float("nan"), float("nan"))


def leaving_time(
    clock: FloatArray,
    path: FloatArray,
    rest: tuple[int, int],
    until: float,
    level: float = IN_PLACE,
    *,
    bends: bool = False,
) -> Onset:
    """When a path has left its place by so much.

    Parameters
    ----------
    clock : array of shape (n_frames,)
    path : array of shape (n_frames, 2)
        Body heights; frames that are NaN are left out.
    rest : pair of int
        First and last frame of rest.
    until : float
        A time well on its way, up to which it is looked; NaN gives NaN.
    level : float
        Body heights.
    bends : bool
        Whether the way bends farther off: it is then how far the path is from its place, and near
        that how far it is in the direction in which it leaves. In the direction in which it is
        last seen what it goes at first across that would be lost.
    """
    if not isfinite(until):
        return _UNTOLD
    part = slice(rest[0], int(clock.searchsorted(until)) + 1)
    way = path[part] - mean_place(path, *rest)
    if bends:
        return onset(clock[part], _gone_round(way), level)
    there = _last_seen(way)
    return _UNTOLD if there is None else onset(clock[part], _along(way, there), level)


def _along(way: FloatArray, there: FloatArray) -> FloatArray:
    """How far some places, shape (n_frames, 2), are in the direction of another."""
    return np.asarray(way.dot(there / max(hypot(*there), 1e-9)))


def _gone_round(way: FloatArray) -> FloatArray:
    """How far a way that bends, shape (n_frames, 2), has gone: how far off it is, and in its
    surroundings, where jitter alone is off, how far in the direction in which it leaves them.

    >>> way = np.array([[0.0, 0.001], [0.01, 0.0], [0.02, 0.0], [0.03, 0.0], [0.03, 0.04]])
    >>> _gone_round(way).round(3).tolist()
    [0.0, 0.01, 0.02, 0.03, 0.05]
    """
    far = np.hypot(way[:, 0], way[:, 1])
    about = np.flatnonzero(far < _SURROUNDINGS)
    first = int(about[-1]) + 1 if about.size else 0
    gone = far.copy()
    gone[:first] = _along(way[:first], mean_place(way, max(first - 1, 0), first + 1))
    return gone


def _last_seen(path: FloatArray) -> FloatArray | None:
    """The last of some places, shape (n_frames, 2), that is not NaN."""
    if len(path) and not isnan(path[-1, 0] + path[-1, 1]):
        return np.asarray(path[-1])
    seen = np.flatnonzero(~np.isnan(path[:, 0] + path[:, 1]))
    return np.asarray(path[seen[-1]]) if seen.size else None


def joint_leaving_time(
    clock: FloatArray, places: FloatArray, rest: tuple[int, int], until: float
) -> float:
    """When many points together have gone a small share of the way they are on.

    Every point's way is taken along the direction in which it goes and weighted by how far it
    goes, so that what one point hides in its jitter all of them show.

    Parameters
    ----------
    places : array of shape (n_frames, 2 * n_points)
        x and y of each in turn; points not seen all through the stretch are left out.

    Others and returns as in :func:`leaving_time`.
    """
    if not isfinite(until):
        return float("nan")
    begin, last = rest
    part = slice(begin, int(clock.searchsorted(until)) + 1)
    still = last - begin + 1
    if part.stop - begin < still + 2:
        return float("nan")
    ways = places[part]
    lost = np.isnan(np.add.reduce(ways))
    if lost.any():
        ways = ways[:, np.repeat(~lost.reshape(-1, 2).any(axis=1), 2)]
    place = np.add.reduce(ways[:still]) / still
    there = np.add.reduce(ways[-_LAST:]) / len(ways[-_LAST:]) - place
    gone = (ways.dot(there) - place.dot(there)) / max(float(there.dot(there)), 1e-9)
    return onset(clock[part], gone, _JOINT_LEVEL).time if there.size else float("nan")


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
    together = points[back].take(_BODY, axis=1).reshape(-1, 2 * len(_BODY))
    together -= tracks.hips[back].take(_IN_TURN, axis=1)
    for _ in range(2):
        unit = top - clock[rest]
        begin = int(clock.searchsorted(clock[rest] - _UNSEEN_START * unit - _AT_ADDRESS))
        still = int(clock.searchsorted(clock[begin] + _AT_ADDRESS))
        until = float(clock[rest] + _SEEN_START * unit)
        moved = joint_leaving_time(clock, together, (begin, still), until)
        if isnan(moved):
            break
        before, rest = rest, min(max(int(clock.searchsorted(moved)) - 1, still), max(rest, still))
        if rest == before:
            break
    return rest


def mean_place(path: FloatArray, first: int, last: int) -> FloatArray:
    """Mean place over some frames, shape (2,); NaN where it is never seen."""
    place = path[first : last + 1]
    if not len(place):
        return np.full(2, np.nan)
    mean = np.asarray(np.add.reduce(place) / len(place))
    if not isnan(mean[0] + mean[1]):
        return mean
    place = place[~np.isnan(place[:, 0] + place[:, 1])]
    return np.asarray(place.mean(axis=0)) if len(place) else np.full(2, np.nan)


def rest_needed(duration: float) -> float:
    """Seconds of rest to tell a movement of some seconds against."""
    return max(_REST, _REST_SHARE * duration)


def onset(clock: FloatArray, gone: FloatArray, level: float) -> Onset:
    """When a way first reaches a small level.

    Parameters
    ----------
    clock : array of shape (n,)
        Seconds, increasing, from the rest into the movement.
    gone : array of shape (n,)
        Way covered in body heights, about 0 at first; frames that are NaN are left out.
    level : float
        Body heights.

    Returns
    -------
    Onset
        NaN with too few frames or where nothing grows.

    >>> clock = np.linspace(-0.2, 0.3, 26)
    >>> gone = 2.0 * np.clip(clock, 0.0, None) ** 2
    >>> round(onset(clock, gone, 0.02).time, 2)
    0.1
    """
    if isnan(np.add.reduce(gone)):
        seen = ~np.isnan(gone)
        clock, gone = clock[seen], gone[seen]
    times, way = _thinned(clock, gone)
    if times.size < _FEWEST:
        return _UNTOLD
    begin, duration = float(times[0]), float(times[-1] - times[0])
    moments = np.rint((times - begin) * (_FINENESS / duration))
    starts, fits, sizes = _fits(moments.tobytes())
    about = way - np.add.reduce(way) / way.size
    slope = fits.dot(about)
    grows = slope > 0.0
    left = np.where(grows, about.dot(about) - slope * slope * sizes, np.inf)
    best = float(np.minimum.reduce(left))
    if not isfinite(best):
        return _UNTOLD
    noise = max(best / (times.size - 2), _LEAST_NOISE**2)
    weight = np.exp((best - left) / (2.0 * noise))
    share = np.minimum(level / np.where(grows, slope, np.inf), 1.0) ** _ROOTS
    reached = starts + (1.0 - starts) * share
    weight /= np.add.reduce(weight)
    mean = float(weight.dot(reached))
    aside = reached - mean
    return Onset(begin + duration * mean, duration * sqrt(float(weight.dot(aside * aside))))


@lru_cache(maxsize=128)
def _fits(moments: bytes) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Straight least squares of a way on each curve and a place of rest.

    It hangs on nothing but how the moments lie: evenly in nearly every clip, so that few cases
    serve many swings.

    Parameters
    ----------
    moments
        The bytes of an array of shape (n,), from 0 to :data:`_FINENESS`.

    Returns
    -------
    starts : array of shape (n_curves,)
        When each curve starts, of 0 to 1.
    fits : array of shape (n_curves, n)
        What a way is multiplied by for its slope on each curve.
    sizes : array of shape (n_curves,)
        Squared length of each curve about its mean.
    """
    times = np.frombuffer(moments) / _FINENESS
    starts = times[-2] * _START_SHARES
    after = np.maximum(times - starts[:, None], 0.0) / (1.0 - starts[:, None])
    curves = (after ** _POWERS[:, None, None]).reshape(-1, times.size)
    about = curves - curves.mean(axis=1, keepdims=True)
    sizes = (about**2).sum(axis=1)
    return np.tile(starts, len(_POWERS)), about / sizes[:, None], sizes


def _thinned(times: FloatArray, way: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Means over as many frames running as leave few enough samples."""
    running = -(-times.size // _MOST)
    if running <= 1:
        return times, way
    both = np.array([times, way])[:, times.size % running :]
    times, way = np.add.reduce(both.reshape(2, -1, running), axis=2) / running
    return times, way
