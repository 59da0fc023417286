"""A swing on one strip of samples, from before its start to after its end, as a network reads it.

Four moments found by thresholds (P1, P4, P7 and P10) lie at the same samples in every swing, with
even steps of time between them: a rehearsal and a swing at full speed, 24 frames a second and 240,
look alike. What thresholds get wrong by some tenths of a part only shifts what is seen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.landmark_paths import Tracks
from service.analysis.pose.points import Point
from service.analysis.pose.timeline import Timeline
from service.analysis.types import BoolArray, FloatArray, View

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
_PICKED: Final = np.array(_POINTS)
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
_SPEEDS: Final = np.array(
    [_POINTS.index(Point.LEAD_WRIST), _POINTS.index(Point.CLUBHEAD), _HANDS, _HANDS]
)
"""Whose speeds are told; the last against the hips."""
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
N_SIGNALS: Final[int] = 3 * _N_PATHS - 1 + 6 * (len(_WAYS) + 1) + 3 * len(_RODS) + len(_SPEEDS) + 2
"""Places and whether they are seen, ways, arms and shaft, speeds, steps of time and whether the
clip goes on."""
N_ABOUT: Final[int] = len(_POINTS) + 6
_OF_CLOCK: Final[list[int]] = [len(_POINTS), *range(len(_POINTS) + 3, N_ABOUT)]
_OF_VIEW: Final[int] = len(_POINTS) + 1
_OF_CLUB: Final[int] = len(_POINTS) + 2
"""Places among what holds for all of a swing; before them errors of points."""
_FEWEST: Final[int] = 2
"""Frames in which a path must be seen to be told."""
_CLUBHEAD: Final[int] = _POINTS.index(Point.CLUBHEAD)
_AT_ONCE: Final[int] = 8
"""Strips made at once: many more leave the processor's nearest memory."""
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


class Hung(NamedTuple):
    """A swing to lay on a strip: what of :class:`~.scene.Scene` is seen of it, and where its
    positions are.

    ``times`` are seconds of the positions that thresholds have found, by number; others as in
    :class:`~.scene.Scene`.
    """

    points: FloatArray
    tracks: Tracks
    view: View
    noise: FloatArray
    times: Mapping[int, float]


def strip_of(
    points: FloatArray,
    tracks: Tracks,
    view: View,
    noise: FloatArray,
    times: Mapping[int, float],
) -> Strip | None:
    """Lay one swing on a strip, as :func:`strips_of` does it."""
    return strips_of((Hung(points, tracks, view, noise, times),))[0]


def strips_of(swings: Sequence[Hung]) -> list[Strip | None]:
    """Lay each of some swings on a strip; ``None`` where too few of its positions were found."""
    fixed = [_fixed(each) for each in swings]
    strips = dict[int, Strip]()
    rows = [k for k, own in enumerate(fixed) if own is not None]
    for k in range(0, len(rows), _AT_ONCE):
        some = rows[k : k + _AT_ONCE]
        told = _strips([swings[row] for row in some], [own for row in some if (own := fixed[row])])
        strips.update(zip(some, told, strict=True))
    return [strips.get(k) for k in range(len(swings))]


def _strips(swings: Sequence[Hung], fixed: Sequence[_Fixed]) -> Iterator[Strip]:
    clocks = _clocks(fixed)
    sampled = clocks[:, ::_EACH]
    line = Timeline.of([swing.tracks.times for swing in swings])
    paths = _paths(swings)
    seen = ~np.isnan(paths[..., 0])
    frames = np.add.reduceat(seen, line.first, axis=0, dtype=np.intp)
    ever = frames >= _FEWEST
    _bridge(line, paths, seen, frames)
    now, *either = _between(line, (sampled, sampled - _STEADY, sampled + _STEADY))
    there = _sampled(seen[:, :-1].astype(np.float32), now) * now.inside[..., None]
    places = _sampled(paths, now)
    signals = [
        _about_hips(places, ever),
        there,
        _gone(_ways(places)),
        _rods(places, ever),
        _speeds(paths, *either),
        np.log(_steps(sampled) / _USUAL_STEP)[..., None],
        now.inside[..., None],
    ]
    told = np.concatenate(signals, axis=2, dtype=np.float32)
    about = _about(swings, fixed, frames[:, _CLUBHEAD] > 0)
    for own, signals_of, about_it, clock in zip(fixed, told, about, clocks, strict=True):
        yield Strip(signals_of, about_it, clock, own[3] - own[0])


_Fixed = tuple[float, float, float, float]
"""Seconds of P1, P4, P7 and P10."""


def _fixed(swing: Hung) -> _Fixed | None:
    """The moments that a strip is hung on, by usual lengths where they were not found; ``None``
    where it can't be."""
    times = swing.times
    if len(swing.tracks.times) < 2 or 4 not in times or not (1 in times or 7 in times):
        return None
    top = times[4]
    down = times[7] - top if 7 in times else (top - times[1]) / _BACK_TO_DOWN
    start = times.get(1, top - _BACK_TO_DOWN * down)
    impact = top + down
    hung = start, top, impact, times.get(10, impact + _THROUGH_TO_DOWN * down)
    return hung if min(b - a for a, b in pairwise(hung)) > _LEAST_PART else None


def _clocks(fixed: Sequence[_Fixed]) -> FloatArray:
    """Seconds of every moment, shape (n_swings, N_MOMENTS)."""
    edges = np.array(
        [
            (
                start - _BEFORE * (top - start),
                *(start, top, impact, finish),
                finish + _AFTER * (finish - impact),
            )
            for start, top, impact, finish in fixed
        ]
    )
    steps = (edges[:, 1:] - edges[:, :-1]) / _COUNTS
    return np.asarray(_NUMBERS * steps.take(_PARTS, axis=1) + edges.take(_PARTS, axis=1))


_PARTS: Final[NDArray[np.intp]] = np.repeat(np.arange(len(_COUNTS)), _COUNTS)
_NUMBERS: Final = np.concatenate([np.arange(count) for count in _COUNTS])
"""The part that each moment is of, and its number in it."""


def _steps(clocks: FloatArray) -> FloatArray:
    """Half the time between the neighbours of each sample, that to the only one at either end."""
    inner = 0.5 * (clocks[:, 2:] - clocks[:, :-2])
    ends = clocks[:, 1:2] - clocks[:, :1], clocks[:, -1:] - clocks[:, -2:-1]
    return np.concatenate([ends[0], inner, ends[1]], axis=1)


def _mean(values: _Single) -> _Single:
    """Mean along the samples, which it leaves one of; numpy's own takes several times as long."""
    return np.asarray(np.add.reduce(values, axis=1, keepdims=True) / values.shape[1])


def _paths(swings: Sequence[Hung]) -> _Single:
    """Paths of points, hands and hips, one swing after the other, shape (n_frames, n_paths, 2)."""
    paths = np.empty((sum(len(each.points) for each in swings), _N_PATHS, 2), dtype=np.float32)
    at = 0
    for each in swings:
        own = paths[at : at + len(each.points)]
        own[:, :_HANDS] = each.points.take(_PICKED, axis=1)
        own[:, _HANDS], own[:, _HIPS] = each.tracks.hands, each.tracks.hips
        at += len(own)
    return paths


def _bridge(line: Timeline, paths: _Single, seen: BoolArray, frames: NDArray[np.intp]) -> None:
    """Fill gaps by straight lines and what is hardly ever seen by 0, in place.

    Parameters
    ----------
    paths : array of shape (n_frames, n_paths, 2)
    seen : boolean array of shape (n_frames, n_paths)
        Changed too: what is hardly ever seen counts as never.
    frames : array of shape (n_swings, n_paths)
        In how many frames each path is seen.
    """
    lengths = np.array([[span.stop - span.start] for span in line.spans])
    for swing, path in zip(*(each.tolist() for each in (frames < lengths).nonzero()), strict=True):
        span = line.spans[swing]
        if frames[swing, path] < _FEWEST:
            paths[span, path], seen[span, path] = 0.0, False
            continue
        known, clock = seen[span, path], line.times[span]
        for k in (0, 1):
            own = paths[span, path, k]
            own[:] = np.interp(clock, clock[known], own[known])


class _Between(NamedTuple):
    """Where times lie between the frames of clips laid end to end; of shape (n_swings, N_SAMPLES).

    Attributes
    ----------
    frames : the frame before, counted along all clips; the first or last but one beyond a clip
    shares : how far on the way to the next, from 0 to 1
    inside : whether the time lies within the clip
    """

    frames: NDArray[np.intp]
    shares: _Single
    inside: BoolArray


def _between(line: Timeline, times: Sequence[FloatArray]) -> list[_Between]:
    """Where some times lie, each an array of shape (n_swings, N_SAMPLES)."""
    at = np.concatenate(times, axis=1)
    frames = np.empty(at.shape, dtype=np.intp)
    for span, own, told in zip(line.spans, at, frames, strict=True):
        before = line.times[span].searchsorted(own) - 1
        told[:] = np.minimum(np.maximum(before, 0), span.stop - span.start - 2) + span.start
    here = line.times.take(frames)
    shares = (at - here) / (line.times.take(frames + 1) - here)
    inside = (shares >= 0.0) & (shares <= 1.0)
    held = np.minimum(np.maximum(shares, 0.0), 1.0).astype(np.float32)
    parts = [slice(k, k + N_SAMPLES) for k in range(0, at.shape[1], N_SAMPLES)]
    return [_Between(frames[:, part], held[:, part], inside[:, part]) for part in parts]


def _sampled(values: _Single, between: _Between) -> _Single:
    """Values of shape (n_frames, ...) between frames, shape (n_swings, n_at, ...)."""
    frames, flat = between.frames.reshape(-1), values.reshape(len(values), -1)
    here = flat.take(frames, axis=0)
    way = flat.take(frames + 1, axis=0)
    way -= here
    way *= between.shares.reshape(-1, 1)
    way += here
    return np.asarray(way.reshape(*between.frames.shape, *values.shape[1:]))


def _about_hips(places: _Single, ever: BoolArray) -> _Single:
    """Places about where the hips are on average, wherever in the picture the player stands; 0 for
    what is never seen. Shape (n_swings, N_SAMPLES, 2 * n_paths)."""
    rows = places.reshape(*places.shape[:2], -1)
    # All of a row at once is faster than point by point.
    about = rows - _mean(places[:, :, _HIPS]).take(_IN_TURN, axis=2)
    about *= ever.repeat(2, axis=1)[:, None]
    return np.asarray(about)


def _ways(places: _Single) -> _Single:
    """From address and from the finish to where something is, of some paths and of the hands
    against the hips; shape (n_swings, N_SAMPLES, 2, n_ways, 2)."""
    told = places.take([*_WAYS, _HANDS], axis=2)
    told[:, :, -1] -= places[:, :, _HIPS]
    rows = told.reshape(*places.shape[:2], -1)
    ways = np.empty((*rows.shape[:2], 2, rows.shape[2]), dtype=np.float32)
    for own, part in enumerate((_AT_ADDRESS, _AT_FINISH)):
        np.subtract(rows, _mean(rows[:, part]), out=ways[:, :, own])
    return ways.reshape(*rows.shape[:2], 2, -1, 2)


def _rods(places: _Single, ever: BoolArray) -> _Single:
    """From end to end of arms and shaft, and how far they are from level told finely; 0 for one
    that is never seen. Shape (n_swings, N_SAMPLES, 3 * n_rods)."""
    near, far = _RODS.T
    rods = places.take(far, axis=2) - places.take(near, axis=2)
    rods *= (ever.take(near, axis=1) & ever.take(far, axis=1))[:, None, :, None]
    level = _fine(rods[..., 1:], _FINE)
    return np.concatenate([rods, level], axis=-1).reshape(*places.shape[:2], -1)


def _gone(ways: _Single) -> _Single:
    """Ways of shape (..., 2, n_ways, 2) along either axis and straight, small ones told finely;
    shape (..., 6 * n_ways)."""
    told = np.empty((*ways.shape[:-1], 3), dtype=np.float32)
    x, y = ways[..., 0], ways[..., 1]
    told[..., 0], told[..., 1], told[..., 2] = x, y, np.sqrt(x * x + y * y)
    return _fine(told.reshape(*ways.shape[:2], -1), _FINE)


def _fine(values: _Single, unit: float) -> _Single:
    large = np.abs(values)
    large *= np.float32(1.0 / unit)
    large += np.float32(1.0)
    np.log(large, out=large)
    large *= np.float32(_GENTLE)
    return np.asarray(np.copysign(large, values, out=large))


_IN_TURN: Final = np.tile([0, 1], _N_PATHS)


def _speeds(paths: _Single, before: _Between, after: _Between) -> _Single:
    """Speeds of some paths and of the hands against the hips, from before to after each sample;
    shape (n_swings, N_SAMPLES, n_speeds)."""
    moving = paths.take(_SPEEDS, axis=1)
    moving[:, -1] -= paths[:, _HIPS]
    way = _sampled(moving, after) - _sampled(moving, before)
    return _fine(np.hypot(way[..., 0], way[..., 1]) / (2.0 * _STEADY), _SLOW)


def _about(swings: Sequence[Hung], fixed: Sequence[_Fixed], club: BoolArray) -> NDArray[np.float32]:
    """What holds for all of each swing, shape (n_swings, N_ABOUT).

    Parameters
    ----------
    club : boolean array of shape (n_swings,)
        Whether the clubhead is ever seen.
    """
    error = np.array([each.noise for each in swings]).take(_PICKED, axis=1)
    error = np.where(np.isnan(error), _UNKNOWN_ERROR, np.maximum(error, _LEAST_ERROR))
    shares = [
        (
            each.tracks.frame / _USUAL_FRAME,
            (impact - top) / _USUAL_DOWNSWING,
            (top - start) / (_BACK_TO_DOWN * (impact - top)),
            (finish - impact) / (_THROUGH_TO_DOWN * (impact - top)),
        )
        for each, (start, top, impact, finish) in zip(swings, fixed, strict=True)
    ]
    told = np.empty((len(swings), N_ABOUT))
    told[:, : len(_POINTS)] = 0.5 * np.log(error / _USUAL_ERROR)
    told[:, _OF_CLOCK] = np.log(shares)
    told[:, _OF_VIEW] = [each.view is View.FACE_ON for each in swings]
    told[:, _OF_CLUB] = club
    return np.minimum(np.maximum(told, -4.0), 4.0).astype(np.float32)
