"""A swing on one strip of samples, from before its start to after its end, as a network reads it.

Four moments found by thresholds (P1, P4, P7 and P10) lie at the same samples in every swing, with
even steps of time between them: a rehearsal and a swing at full speed, 24 frames a second and 240,
look alike. What thresholds get wrong by some tenths of a part only shifts what is seen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.landmark_paths import Tracks
from service.analysis.events.positions.strip_clock import (
    BACK_TO_DOWN,
    COUNTS,
    EACH,
    THROUGH_TO_DOWN,
    Anchors,
    Between,
    Single,
    StripInput,
    anchors_of,
    between_frames,
    clocks_of,
    sample,
    steps_of,
)
from service.analysis.pose.points import Point
from service.analysis.pose.timeline import Timeline
from service.analysis.types import BoolArray, FloatArray, View

_AT_P1, _AT_P10 = COUNTS[0] // EACH, sum(COUNTS[:4]) // EACH
_AT_ADDRESS: Final = slice(_AT_P1 - 12, _AT_P1 - 1)
_AT_FINISH: Final = slice(_AT_P10 + 11, _AT_P10 + 33)
"""Samples whose mean is the place at address, and where the hands hold: 0.3 to 0.9 ways through
after P10, as thresholds find it too early rather than too late."""
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
    """Lay one swing on a strip, as :func:`strips_of` does it."""
    return strips_of((StripInput(points, tracks, view, noise, times),))[0]


def strips_of(swings: Sequence[StripInput]) -> list[Strip | None]:
    """Lay each of some swings on a strip; ``None`` where too few of its positions were found."""
    anchors = [anchors_of(each) for each in swings]
    strips = dict[int, Strip]()
    rows = [k for k, own in enumerate(anchors) if own is not None]
    for k in range(0, len(rows), _AT_ONCE):
        some = rows[k : k + _AT_ONCE]
        made = _strips(
            [swings[row] for row in some], [own for row in some if (own := anchors[row])]
        )
        strips.update(zip(some, made, strict=True))
    return [strips.get(k) for k in range(len(swings))]


def _strips(swings: Sequence[StripInput], anchors: Sequence[Anchors]) -> Iterator[Strip]:
    clocks = clocks_of(anchors)
    sampled = clocks[:, ::EACH]
    line = Timeline.of([swing.tracks.times for swing in swings])
    paths = _paths(swings)
    seen = ~np.isnan(paths[..., 0])
    frames = np.add.reduceat(seen, line.first, axis=0, dtype=np.intp)
    ever = frames >= _FEWEST
    _bridge(line, paths, seen, frames)
    now, *either = between_frames(line, (sampled, sampled - _STEADY, sampled + _STEADY))
    there = sample(seen[:, :-1].astype(np.float32), now) * now.inside[..., None]
    places = sample(paths, now)
    signals = [
        _about_hips(places, ever),
        there,
        _gone(_ways(places)),
        _rods(places, ever),
        _speeds(paths, *either),
        np.log(steps_of(sampled) / _USUAL_STEP)[..., None],
        now.inside[..., None],
    ]
    joined = np.concatenate(signals, axis=2, dtype=np.float32)
    about = _about(swings, anchors, frames[:, _CLUBHEAD] > 0)
    for own, signals_of, about_it, clock in zip(anchors, joined, about, clocks, strict=True):
        yield Strip(signals_of, about_it, clock, own[3] - own[0])


def _mean(values: Single) -> Single:
    """Mean along the samples, which it leaves one of; numpy's own takes several times as long."""
    return np.asarray(np.add.reduce(values, axis=1, keepdims=True) / values.shape[1])


def _paths(swings: Sequence[StripInput]) -> Single:
    """Paths of points, hands and hips, one swing after the other, shape (n_frames, n_paths, 2)."""
    paths = np.empty((sum(len(each.points) for each in swings), _N_PATHS, 2), dtype=np.float32)
    at = 0
    for each in swings:
        own = paths[at : at + len(each.points)]
        own[:, :_HANDS] = each.points.take(_PICKED, axis=1)
        own[:, _HANDS], own[:, _HIPS] = each.tracks.hands, each.tracks.hips
        at += len(own)
    return paths


def _bridge(line: Timeline, paths: Single, seen: BoolArray, frames: NDArray[np.intp]) -> None:
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


def _about_hips(places: Single, ever: BoolArray) -> Single:
    """Places about where the hips are on average, wherever in the picture the player stands; 0 for
    what is never seen. Shape (n_swings, N_SAMPLES, 2 * n_paths)."""
    rows = places.reshape(*places.shape[:2], -1)
    # All of a row at once is faster than point by point.
    about = rows - _mean(places[:, :, _HIPS]).take(_IN_TURN, axis=2)
    about *= ever.repeat(2, axis=1)[:, None]
    return np.asarray(about)


def _ways(places: Single) -> Single:
    """From address and from the finish to where something is, of some paths and of the hands
    against the hips; shape (n_swings, N_SAMPLES, 2, n_ways, 2)."""
    told = places.take([*_WAYS, _HANDS], axis=2)
    told[:, :, -1] -= places[:, :, _HIPS]
    rows = told.reshape(*places.shape[:2], -1)
    ways = np.empty((*rows.shape[:2], 2, rows.shape[2]), dtype=np.float32)
    for own, part in enumerate((_AT_ADDRESS, _AT_FINISH)):
        np.subtract(rows, _mean(rows[:, part]), out=ways[:, :, own])
    return ways.reshape(*rows.shape[:2], 2, -1, 2)


def _rods(places: Single, ever: BoolArray) -> Single:
    """From end to end of arms and shaft, and how far they are from level told finely; 0 for one
    that is never seen. Shape (n_swings, N_SAMPLES, 3 * n_rods)."""
    near, far = _RODS.T
    rods = places.take(far, axis=2) - places.take(near, axis=2)
    rods *= (ever.take(near, axis=1) & ever.take(far, axis=1))[:, None, :, None]
    level = _fine(rods[..., 1:], _FINE)
    return np.concatenate([rods, level], axis=-1).reshape(*places.shape[:2], -1)


def _gone(ways: Single) -> Single:
    """Ways of shape (..., 2, n_ways, 2) along either axis and straight, small ones told finely;
    shape (..., 6 * n_ways)."""
    told = np.empty((*ways.shape[:-1], 3), dtype=np.float32)
    x, y = ways[..., 0], ways[..., 1]
    told[..., 0], told[..., 1], told[..., 2] = x, y, np.sqrt(x * x + y * y)
    return _fine(told.reshape(*ways.shape[:2], -1), _FINE)


def _fine(values: Single, unit: float) -> Single:
    large = np.abs(values)
    large *= np.float32(1.0 / unit)
    large += np.float32(1.0)
    np.log(large, out=large)
    large *= np.float32(_GENTLE)
    return np.asarray(np.copysign(large, values, out=large))


_IN_TURN: Final = np.tile([0, 1], _N_PATHS)


def _speeds(paths: Single, before: Between, after: Between) -> Single:
    """Speeds of some paths and of the hands against the hips, from before to after each sample;
    shape (n_swings, N_SAMPLES, n_speeds)."""
    moving = paths.take(_SPEEDS, axis=1)
    moving[:, -1] -= paths[:, _HIPS]
    way = sample(moving, after) - sample(moving, before)
    return _fine(np.hypot(way[..., 0], way[..., 1]) / (2.0 * _STEADY), _SLOW)


def _about(
    swings: Sequence[StripInput], anchors: Sequence[Anchors], club: BoolArray
) -> NDArray[np.float32]:
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
            (top - start) / (BACK_TO_DOWN * (impact - top)),
            (finish - impact) / (THROUGH_TO_DOWN * (impact - top)),
        )
        for each, (start, top, impact, finish) in zip(swings, anchors, strict=True)
    ]
    told = np.empty((len(swings), N_ABOUT))
    told[:, : len(_POINTS)] = 0.5 * np.log(error / _USUAL_ERROR)
    told[:, _OF_CLOCK] = np.log(shares)
    told[:, _OF_VIEW] = [each.view is View.FACE_ON for each in swings]
    told[:, _OF_CLUB] = club
    return np.minimum(np.maximum(told, -4.0), 4.0).astype(np.float32)
