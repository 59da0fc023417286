"""A swing on one strip of samples, from before its start to after its end, as a network reads it.

Four moments found by thresholds (P1, P4, P7 and P10) lie at the same samples in every swing, with
even steps of time between them: a rehearsal and a swing at full speed, 24 frames a second and 240,
look alike. What thresholds get wrong by some tenths of a part only shifts what is seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import isnan
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.landmark_paths import Tracks
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View

# Numbers below say what is looked at, not what is concluded: judgement, checked by what a network
# makes of them on makes of golfers left out.
_BEFORE: Final[float] = 0.8
"""Backswings before P1 at which the strip begins."""
_AFTER: Final[float] = 1.2
"""Ways through, from P7 to P10, after P10 at which it ends."""
_COUNTS: Final[tuple[int, ...]] = (64, 112, 72, 112, 88)
"""Moments before P1, to P4, to P7, to P10 and after it."""
N_MOMENTS: Final[int] = sum(_COUNTS)
"""Moments of which a network tells the chance."""
_EACH: Final[int] = 2
"""Every so many moments there is a sample: at twice as many a network does no better."""
N_SAMPLES: Final[int] = N_MOMENTS // _EACH
_AT_P1, _AT_P10 = _COUNTS[0] // _EACH, sum(_COUNTS[:4]) // _EACH
_AT_ADDRESS: Final = slice(_AT_P1 - 12, _AT_P1 - 1)
_AT_FINISH: Final = slice(_AT_P10 + 11, _AT_P10 + 33)
"""Samples whose mean is the place at address, and where the hands hold: 0.3 to 0.9 ways through
after P10, as thresholds find it too early rather than too late."""
_BACK_TO_DOWN: Final[float] = 2.7
_THROUGH_TO_DOWN: Final[float] = 2.3
"""Usual lengths of backswing and way through in downswings, where P1, P7 or P10 are not seen."""
_LEAST_PART: Final[float] = 0.03
"""Seconds; what lies closer was misread."""
_STEADY: Final[float] = 0.03
"""Seconds to either side over which a speed is taken."""
_FINE: Final[float] = 0.01
"""Body heights: smaller ways are told evenly, larger ones by their logarithm."""
_SLOW: Final[float] = 0.05
"""Body heights a second, likewise."""
_GENTLE: Final[float] = 0.4
"""Factor by which such logarithms come to be about as large as other signals."""
_LEAST_ERROR: Final[float] = 0.003
"""Body heights; no point is better known."""
_UNKNOWN_ERROR: Final[float] = 0.03
"""Body heights for a point that is never seen."""
_USUAL_ERROR: Final[float] = 0.012
"""Body heights about which the logarithm is taken."""
_USUAL_STEP: Final[float] = 0.016
_USUAL_FRAME: Final[float] = 0.02
_USUAL_DOWNSWING: Final[float] = 0.3
"""Seconds about which logarithms are taken."""
_POINTS: Final[list[Point]] = [
    Point.NOSE,
    Point.LEAD_SHOULDER,
    Point.TRAIL_SHOULDER,
    Point.LEAD_ELBOW,
    Point.TRAIL_ELBOW,
    Point.LEAD_WRIST,
    Point.TRAIL_WRIST,
    Point.LEAD_HIP,
    Point.TRAIL_HIP,
    Point.LEAD_KNEE,
    Point.TRAIL_KNEE,
    Point.LEAD_ANKLE,
    Point.TRAIL_ANKLE,
    Point.CLUBHEAD,
    Point.GRIP,
]
_N_PATHS: Final[int] = len(_POINTS) + 2
_HANDS, _HIPS = len(_POINTS), len(_POINTS) + 1
_WAYS: Final[list[int]] = [
    *map(
        _POINTS.index,
        (
            Point.LEAD_SHOULDER,
            Point.TRAIL_SHOULDER,
            Point.LEAD_WRIST,
            Point.TRAIL_WRIST,
            Point.CLUBHEAD,
        ),
    ),
    _HANDS,
]
"""Whose ways from address and to the finish are told, beside that of the hands against the hips."""
_SPEEDS: Final[list[int]] = [_POINTS.index(Point.LEAD_WRIST), _POINTS.index(Point.CLUBHEAD), _HANDS]
_RODS: Final = np.array(
    [
        [_POINTS.index(near), _POINTS.index(far)]
        for near, far in (
            (Point.LEAD_SHOULDER, Point.LEAD_WRIST),
            (Point.TRAIL_SHOULDER, Point.TRAIL_WRIST),
            (Point.GRIP, Point.CLUBHEAD),
        )
    ]
)
"""Arms and shaft, whose directions define positions wherever the body has gone meanwhile."""
N_SIGNALS: Final[int] = 3 * _N_PATHS - 1 + 6 * (len(_WAYS) + 1) + 3 * len(_RODS) + len(_SPEEDS) + 3
"""Places and whether they are seen, ways, arms and shaft, speeds, steps of time and whether the
clip goes on."""
N_ABOUT: Final[int] = len(_POINTS) + 6
_Single = NDArray[np.float32]


@dataclass(frozen=True)
class Strip:
    """What a network sees of a swing.

    Attributes
    ----------
    signals : array of shape (N_SAMPLES, N_SIGNALS)
        Places, ways, speeds, and what was seen.
    about : array of shape (N_ABOUT,)
        What holds for all of the swing: view, frame rate, how far the points may be off.
    clock : array of shape (N_MOMENTS,)
        Seconds; there is a sample at the first of every two.
    length : float
        Seconds from P1 to P10 as thresholds place them.
    """

    signals: NDArray[np.float32]
    about: NDArray[np.float32]
    clock: FloatArray
    length: float


def strip_of(
    points: FloatArray,
    tracks: Tracks,
    view: View,
    noise: FloatArray,
    times: Mapping[int, float],
) -> Strip | None:
    """Lay a swing on a strip; ``None`` where the moments that it hangs on don't follow each other.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    noise : array of shape (n_points,)
        One standard deviation of the error of ``points`` on one axis.
    times
        Seconds of the positions that thresholds have found, by number.
    """
    hung = _hung_on(times)
    if hung is None or len(tracks.times) < 2:
        return None
    clock = _clock(hung)
    paths = np.concatenate(
        [points.take(_POINTS, axis=1), tracks.hands[:, None], tracks.hips[:, None]],
        axis=1,
        dtype=np.float32,
    )
    sampled = clock[::_EACH]
    between = _between(tracks.times, sampled)
    inside = (sampled >= tracks.times[0]) & (sampled <= tracks.times[-1])
    seen = ~np.isnan(paths[..., 0])
    if not seen.all():
        _bridge(tracks.times, paths, seen)
    there = _sampled(seen.astype(np.float32), *between) * inside[:, None]
    places = _sampled(paths, *between)
    ways = np.concatenate(
        [places.take(_WAYS, axis=1), (places[:, _HANDS] - places[:, _HIPS])[:, None]], axis=1
    )
    ways = np.stack([ways - _mean(ways[_AT_ADDRESS]), ways - _mean(ways[_AT_FINISH])], 1)
    hips = np.concatenate([_mean(places[:, _HIPS])] * _N_PATHS)  # all of a row at once is faster
    about_hips = (places.reshape(N_SAMPLES, -1) - hips).reshape(places.shape)
    about_hips[:, ~seen.any(axis=0)] = 0.0  # wherever in the picture the player stands
    signals = [
        about_hips.reshape(N_SAMPLES, -1),
        there[:, :-1],
        _gone(ways),
        _rods(places, seen),
        _speeds(tracks.times, paths, sampled),
        np.log(_steps(sampled) / _USUAL_STEP)[:, None],
        inside[:, None],
    ]
    return Strip(
        np.concatenate(signals, axis=1, dtype=np.float32),
        _about(points, tracks, view, noise, hung),
        clock,
        hung[3] - hung[0],
    )


def _hung_on(times: Mapping[int, float]) -> tuple[float, float, float, float] | None:
    """Seconds of P1, P4, P7 and P10, by usual lengths where they were not found."""
    if 4 not in times or not (1 in times or 7 in times):
        return None
    top = times[4]
    down = times[7] - top if 7 in times else (top - times[1]) / _BACK_TO_DOWN
    start = times.get(1, top - _BACK_TO_DOWN * down)
    impact = top + down
    hung = start, top, impact, times.get(10, impact + _THROUGH_TO_DOWN * down)
    return hung if min(b - a for a, b in pairwise(hung)) > _LEAST_PART else None


def _clock(hung: tuple[float, float, float, float]) -> FloatArray:
    """Seconds of every moment."""
    start, top, impact, finish = hung
    edges = np.array([start - _BEFORE * (top - start), *hung, finish + _AFTER * (finish - impact)])
    steps = (edges[1:] - edges[:-1]) / _COUNTS
    return np.asarray(_NUMBERS * steps.take(_PARTS) + edges.take(_PARTS))


_PARTS: Final = np.repeat(np.arange(len(_COUNTS)), _COUNTS)
_NUMBERS: Final = np.concatenate([np.arange(count) for count in _COUNTS])
"""The part that each moment is of, and its number in it."""


def _steps(clock: FloatArray) -> FloatArray:
    """Half the time between the neighbours of each sample, that to the only one at either end."""
    inner = 0.5 * (clock[2:] - clock[:-2])
    return np.concatenate([clock[1:2] - clock[:1], inner, clock[-1:] - clock[-2:-1]])


def _mean(values: _Single) -> _Single:
    """Mean along the first axis; numpy's own takes several times as long."""
    return np.asarray(np.add.reduce(values) / len(values))


def _bridge(clock: FloatArray, paths: _Single, seen: NDArray[np.bool_]) -> None:
    """Fill gaps by straight lines and what is hardly ever seen by 0, in place."""
    for path in np.flatnonzero(~seen.all(axis=0)):
        known = seen[:, path]
        if np.count_nonzero(known) < 2:
            paths[:, path] = 0.0
            seen[:, path] = False
            continue
        for k in (0, 1):
            paths[:, path, k] = np.interp(clock, clock[known], paths[known, path, k])


def _between(clock: FloatArray, at: FloatArray) -> tuple[NDArray[np.intp], _Single]:
    """The frame before each time and how far on the way to the next it lies; the first or last
    frame holds beyond the clip."""
    frame = np.minimum(np.maximum(clock.searchsorted(at) - 1, 0), len(clock) - 2)
    here = clock.take(frame)
    share = (at - here) / (clock.take(frame + 1) - here)
    return frame, np.minimum(np.maximum(share, 0.0), 1.0).astype(np.float32)


def _sampled(values: _Single, frame: NDArray[np.intp], share: _Single) -> _Single:
    """Values of shape (n_frames, ...) between frames, shape (n_at, ...)."""
    flat = values.reshape(len(values), -1)
    here = flat.take(frame, axis=0)
    told = here + share[:, None] * (flat.take(frame + 1, axis=0) - here)
    return np.asarray(told.reshape(len(frame), *values.shape[1:]))


def _rods(places: _Single, seen: NDArray[np.bool_]) -> _Single:
    """From end to end of arms and shaft, and how far they are from level told finely; 0 for one
    that is never seen."""
    rods = places.take(_RODS[:, 1], axis=1) - places.take(_RODS[:, 0], axis=1)
    ever = np.logical_or.reduce(seen)
    rods *= np.logical_and.reduce(ever[_RODS], axis=1)[:, None]
    level = _fine(rods[..., 1:], _FINE)
    return np.concatenate([rods, level], axis=-1).reshape(N_SAMPLES, -1)


def _gone(ways: _Single) -> _Single:
    """Ways of shape (n, 2, n_ways, 2) along either axis and straight, small ones told finely."""
    told = np.empty((*ways.shape[:-1], 3), dtype=np.float32)
    x, y = ways[..., 0], ways[..., 1]
    told[..., 0], told[..., 1], told[..., 2] = x, y, np.sqrt(x * x + y * y)
    return _fine(told.reshape(len(ways), -1), _FINE)


def _fine(values: _Single, unit: float) -> _Single:
    large = np.log(1.0 + np.abs(values) * np.float32(1.0 / unit))
    return np.asarray(np.copysign(np.float32(_GENTLE) * large, values))


def _speeds(times: FloatArray, paths: _Single, clock: FloatArray) -> _Single:
    """Speeds of some paths and of the hands against the hips, shape (N_SAMPLES, n_speeds)."""
    moving = paths.take([*_SPEEDS, _HANDS], axis=1)
    moving[:, -1] -= paths[:, _HIPS]
    either = np.concatenate([clock - _STEADY, clock + _STEADY])
    early, late = _sampled(moving, *_between(times, either)).reshape(2, N_SAMPLES, -1, 2)
    way = late - early
    return _fine(np.hypot(way[..., 0], way[..., 1]) / (2.0 * _STEADY), _SLOW)


def _about(
    points: FloatArray,
    tracks: Tracks,
    view: View,
    noise: FloatArray,
    hung: tuple[float, float, float, float],
) -> NDArray[np.float32]:
    error = noise[_POINTS]
    error = np.where(np.isnan(error), _UNKNOWN_ERROR, np.maximum(error, _LEAST_ERROR))
    back, down, through = (b - a for a, b in pairwise(hung))
    club = not isnan(float(np.fmax.reduce(points[:, Point.CLUBHEAD, 0])))
    rest = [
        np.log(tracks.frame / _USUAL_FRAME),
        float(view is View.FACE_ON),
        float(club),
        np.log(down / _USUAL_DOWNSWING),
        np.log(back / (_BACK_TO_DOWN * down)),
        np.log(through / (_THROUGH_TO_DOWN * down)),
    ]
    told = np.concatenate([0.5 * np.log(error / _USUAL_ERROR), rest])
    return np.asarray(np.clip(told, -4.0, 4.0), dtype=np.float32)
