"""Hard cuts: where a film goes on with another picture, of another player or from another side.

From one frame to the next a body moves no farther than it is fast. Where most joints at once leap
by far more than that, and by far more than in the clip's other frames, the film was cut together
there. Joints are told by where they were or where the other side's were, as an estimator that
exchanges left and right for a moment leaps too; so does one that loses the player for a moment and
comes back to where he was: what it saw in between is nobody's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.pose.conditioning import CONFIDENCE_FLOOR
from service.analysis.pose.geometry import squared_length
from service.analysis.pose.points import Point, swap_sides
from service.analysis.pose.rows import row_quantile
from service.analysis.pose.timeline import Timeline, batches
from service.analysis.types import BoolArray, FloatArray

_FASTEST: Final = {
    Point.NOSE: 2.0,
    Point.LEAD_SHOULDER: 2.5,
    Point.TRAIL_SHOULDER: 2.5,
    Point.LEAD_ELBOW: 5.0,
    Point.TRAIL_ELBOW: 5.0,
    Point.LEAD_WRIST: 9.0,
    Point.TRAIL_WRIST: 9.0,
    Point.LEAD_HIP: 1.5,
    Point.TRAIL_HIP: 1.5,
    Point.LEAD_KNEE: 2.0,
    Point.TRAIL_KNEE: 2.0,
    Point.LEAD_ANKLE: 1.2,
    Point.TRAIL_ANKLE: 1.2,
}
"""Body heights a second that joints reach in a fast swing, about; judgement."""
_JOINTS: Final = list(_FASTEST)
_SPEEDS: Final[FloatArray] = np.array(list(_FASTEST.values()))
_ERROR: Final[float] = 0.03
"""Body heights by which an estimator may be off beside that; judgement."""
_FEWEST: Final[int] = 10
"""Joints that must be seen in both frames."""
_LEAP: Final[float] = 0.7
"""Share of what its joints may move from which the middle joint leaps. Of 149 real clips of swings
none reaches 0.56; where two of them are joined nine in ten do, and of simulated ones as many, those
of one player filmed by one camera among them."""
_OWN: Final[float] = 2.5
"""How many times as far as in nine of ten frames of the clip, which tells a leap from a runner, a
pan or bad points."""
_STANDS_OUT: Final[float] = 2.0
"""How many times as far as in the frames about it, which tells a leap from limbs that are fast and
badly seen: of 960 simulated swings without a cut it leaves one of three that would be told of one,
and of 144 joined films as many are told as without it."""
_NEAR: Final[float] = 0.1
"""Seconds."""
_SETTLES: Final[float] = 0.2
"""Seconds within which leaps are one: an estimator that smooths takes some frames to arrive."""


@dataclass(frozen=True)
class Stretches:
    """How a film goes on.

    Attributes
    ----------
    shots : list of slices
        The stretches of frames between hard cuts, one slice of all where there is none. Frames in
        which an estimator is on its way from one picture to the next are in none of them.
    strayed : list of slices
        Frames in which it was elsewhere and came back.
    """

    shots: list[slice]
    strayed: list[slice]


def find_all_cuts(
    films: Sequence[tuple[FloatArray, FloatArray, FloatArray, float]],
) -> list[Stretches]:
    """Where films were cut together, and where the player was lost for a moment.

    Parameters
    ----------
    films
        Of each its points, shape (n_frames, n_points, 2), in anatomical order, NaN where missing;
        their confidence, shape (n_frames, n_points); seconds, shape (n_frames,); and the player's
        height in the unit of the points.
    """
    some = batches([len(times) for _, _, times, _ in films])
    return [each for own in some for each in _find_cuts(films[own])]


def _find_cuts(
    films: Sequence[tuple[FloatArray, FloatArray, FloatArray, float]],
) -> list[Stretches]:
    """The same of some films laid end to end."""
    line = Timeline.of([times for _, _, times, _ in films])
    scales = np.array([scale for *_, scale in films])
    seen = np.concatenate([points.take(_JOINTS, axis=1) for points, *_ in films])
    sure = np.concatenate([confidence.take(_JOINTS, axis=1) for _, confidence, *_ in films])
    told = (sure >= CONFIDENCE_FLOOR) & ~np.isnan(seen[..., 0])
    np.copyto(seen, np.nan, where=~told[..., None])
    # Beside a frame that shows too little, a leap is one between frames farther apart.
    hardly_seen = np.count_nonzero(told, axis=1) < _FEWEST
    doubtful = _some_leap(seen, line, scales[line.clip[1:]])
    doubtful |= np.logical_or.reduceat(hardly_seen, line.first)
    return [
        _found(seen[span] / scale, told[span], line.times[span])
        if look
        else _gone_on(span.stop - span.start)
        for span, scale, look in zip(line.spans, scales, doubtful.tolist(), strict=True)
    ]


def _gone_on(n_frames: int) -> Stretches:
    """A film in one go."""
    return Stretches([slice(0, n_frames)], [])


def _found(body: FloatArray, told: BoolArray, times: FloatArray) -> Stretches:
    """What is found in one film.

    Parameters
    ----------
    body : array of shape (n_frames, n_joints, 2)
        Body heights, NaN where a joint is not seen.
    told : boolean array of shape (n_frames, n_joints)
        Where a joint is seen.
    """
    frames = np.flatnonzero(np.count_nonzero(told, axis=1) >= _FEWEST)
    clock, body = times[frames], body[frames]
    if frames.size < 3 or not _some_leap(body, Timeline.of([clock]), 1.0).any():
        return _gone_on(len(times))
    shown = _shown_anew(body, clock)
    frames, body, clock = frames[shown], body[shown], clock[shown]
    leaping, alone = _leaping(body, clock)
    if not leaping.any():
        return _gone_on(len(times))
    strayed = [slice(int(frames[k]), int(frames[k + 1])) for k in np.flatnonzero(alone)]
    if strayed:
        frames, body, clock = frames[~alone], body[~alone], clock[~alone]
        leaping, _ = _leaping(body, clock)
    rest = _stretches(body, clock, frames, np.flatnonzero(leaping) + 1, len(times))
    return Stretches(rest.shots, sorted([*strayed, *rest.strayed], key=lambda part: part.start))


def _leaping(body: FloatArray, clock: FloatArray) -> tuple[BoolArray, BoolArray]:
    """The ways to the next frame that leap, shape (n_frames - 1,), and the frames in which the
    estimator was elsewhere for that frame alone, shape (n_frames,)."""
    far = _leaps(body, clock, np.arange(1, len(clock)))
    back = _there_and_back(body, clock, far)
    # Where that happens often, the ways there and back tell nothing of how the player moves.
    own = far[~(back[1:] | back[:-1])]
    leaping = far > max(_LEAP, _OWN * float(np.quantile(own, 0.9)) if own.size else 0.0)
    leaping &= far > _STANDS_OUT * _about(far, leaping, clock[1:])
    back[1:-1] &= leaping[:-1] & leaping[1:]
    return leaping, back


def _there_and_back(body: FloatArray, clock: FloatArray, far: FloatArray) -> BoolArray:
    """Frames to which the body leaps and from which it leaps back, shape (n_frames,).

    ``far`` are the ways from frame to frame.
    """
    leaps = far > _LEAP
    both = np.flatnonzero(leaps[:-1] & leaps[1:]) + 1
    found = np.zeros(len(clock), dtype=bool)
    if both.size:
        found[both[_leaps(body, clock, both + 1, step=2) <= _LEAP]] = True
    return found


def _some_leap(joints: FloatArray, line: Timeline, scale: FloatArray | float) -> BoolArray:
    """Whether so many joints leap in any frame of a film that the middle one could, shape
    (n_films,); quickly told.

    Parameters
    ----------
    joints : array of shape (n_frames, n_joints, 2)
    scale : body heights in their unit, of all frames or from the second on, shape (n_frames - 1,)
    """
    paths, clock = np.ascontiguousarray(joints.T), line.times
    far = _LEAP * (_SPEEDS[:, None] * (scale * (clock[1:] - clock[:-1])) + scale * _ERROR)
    leap = squared_length(paths[..., 1:] - paths[..., :-1]) > far * far
    some = np.zeros(len(clock), dtype=bool)
    if np.count_nonzero(leap) < _FEWEST // 2:
        return some[line.first]
    some[1:] = (np.count_nonzero(leap, axis=0) >= _FEWEST // 2) & line.within(1)
    return np.logical_or.reduceat(some, line.first)


def _shown_anew(body: FloatArray, clock: FloatArray) -> BoolArray:
    """Frames that aren't the one before shown again, as a film stored at twice its rate has them;
    between two of the others all time since counts. A picture that stands still for long is seen
    to its end. Shape (n_frames,)."""
    anew = np.concatenate([[True], (np.abs(body[1:] - body[:-1]) > 0.0).any(axis=(1, 2))])
    moments = np.flatnonzero(anew)
    long_still = np.diff(clock[moments]) > _NEAR
    anew[moments[1:][long_still] - 1] = True
    return anew


def _about(far: FloatArray, leaping: BoolArray, clock: FloatArray) -> FloatArray:
    """The longest way near each frame that is no leap, shape (n,); 0 far from any leap."""
    longest = np.zeros(len(far))
    for k in np.flatnonzero(leaping):
        near = (np.abs(clock - clock[k]) <= _NEAR) & ~leaping
        longest[k] = far[near].max(initial=0.0)
    return longest


def _stretches(
    body: FloatArray,
    clock: FloatArray,
    frames: NDArray[np.intp],
    leaps: NDArray[np.intp],
    n_frames: int,
) -> Stretches:
    """What lies between leaps to another picture; ``leaps`` are the frames arrived at."""
    apart = np.flatnonzero(np.diff(clock[leaps]) > _SETTLES) + 1
    shots, strayed, first = list[slice](), list[slice](), 0
    if not leaps.size:
        return Stretches([slice(0, n_frames)], strayed)
    for group in np.split(leaps, apart):
        before, after = group[0] - 1, group[-1]
        if _leaps(body, clock, np.array([after]), step=after - before)[0] > _LEAP:
            shots.append(slice(first, int(frames[before]) + 1))
            first = int(frames[after])
        elif after > group[0]:
            strayed.append(slice(int(frames[group[0]]), int(frames[after])))
    return Stretches([*shots, slice(first, n_frames)], strayed)


def _leaps(
    body: FloatArray, clock: FloatArray, arrived: NDArray[np.intp], step: int = 1
) -> FloatArray:
    """How far the middle joint has gone since ``step`` frames before, as a share of what it may.

    Shape (n_arrived,); 0 where too few joints are seen in both.
    """
    here, there = body[arrived - step], body[arrived]
    may = _SPEEDS * (clock[arrived] - clock[arrived - step])[:, None] + _ERROR
    direct = _middle(_way(here, there) / may)
    if not (direct > _LEAP).any():
        return direct
    return np.minimum(direct, _middle(_way(here, there.take(_OTHER_SIDE, axis=1)) / may))


def _way(here: FloatArray, there: FloatArray) -> FloatArray:
    across, up = np.moveaxis(there - here, -1, 0)
    return np.asarray(np.hypot(across, up))


def _middle(shares: FloatArray) -> FloatArray:
    """The median along the joints of what is seen, 0 where that is too little."""
    count = np.count_nonzero(~np.isnan(shares), axis=1)
    return np.where(count >= _FEWEST, row_quantile(shares, 0.5), 0.0)


def _other_side() -> NDArray[np.intp]:
    """The place among the joints of each one's partner on the other side."""
    partners = swap_sides(np.arange(len(Point))[None])[0]
    return np.array([_JOINTS.index(Point(partners[joint])) for joint in _JOINTS])


_OTHER_SIDE: Final = _other_side()
