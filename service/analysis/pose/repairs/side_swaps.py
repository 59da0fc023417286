"""Left and right exchanged by a pose estimator, and exchanged back.

Like all conditioning, told in seconds and body heights, and the same in a shifted, turned,
mirrored or scaled picture.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.pose.geometry import squared_length
from service.analysis.pose.points import both_sides
from service.analysis.pose.timeline import Timeline
from service.analysis.types import BoolArray, FloatArray

_LONGEST_SWAP: Final = 0.25
"""Seconds. A longer exchange of sides is more likely the player than the estimator, unless both
feet change places at once, or shoulders, arms and hips do."""
_LONGEST_TRADE: Final = 0.06
"""Seconds in which feet on the ground can't have changed places."""
_TRADED: Final = 0.75
"""Share of the way to the other's place that each ankle must have gone in that time."""
_FEET_APART: Final = 0.05
"""Body heights between the ankles below which noise alone may have them change places."""
_TRADE_GAIN: Final = 0.8
"""Such an exchange is believed if undoing it leaves at most this share of the squared roughness;
legs that pass one another get rougher."""
_AT_HOME: Final = (0.2, 0.5)
"""Seconds before whose medians tell where each ankle belongs: the shorter follow a foot that rolls,
the longer outlast an exchange that went unseen."""
_SETTLED: Final = 0.5
"""Seconds after which the sides are taken to be right before the feet change places."""
_SWAP_JUMP: Final = 0.12
"""Body heights by which left minus right must jump where a swap starts and ends."""
_SWAP_GAIN: Final = 0.1
"""A swap is believed if undoing it leaves at most this share of the squared roughness."""
_LASTING_GAIN: Final = 0.25
"""Share of the squared roughness of all of them that undoing it leaves at most: arms are fast."""
_SHOULDERS_JUMP: Final = 0.25
"""Body heights by which the line of the shoulders must do so where an exchange of shoulders, arms
and hips starts that lasts: turned by 800 degrees a second it goes half as far from one frame to the
next at 30 a second, and twice that where every second frame alone is marked."""


_LEGS: Final = both_sides("knee", "ankle", "heel", "toe", "small_toe")
_FACE: Final = both_sides("eye", "ear")
_CHAINS: Final = (
    both_sides("shoulder"),
    both_sides("elbow", "wrist", "hand"),
    both_sides("hip"),
    _LEGS,
)
"""Joints whose sides an estimator exchanges together."""
_ANKLE: Final = 1
"""Place of the ankle among :data:`_LEGS`."""
_LEFT: Final = np.concatenate([left for left, _ in _CHAINS])
_RIGHT: Final = np.concatenate([right for _, right in _CHAINS])
_ENDS: Final = np.cumsum([left.size for left, _ in _CHAINS])
_STARTS: Final = _ENDS - [left.size for left, _ in _CHAINS]
_PARTS: Final = [slice(*both) for both in zip(_STARTS.tolist(), _ENDS.tolist(), strict=True)]
"""Where the joints of each chain lie among those of all."""
_TRUNK_AND_ARMS: Final = slice(0, _ENDS[-2])
"""Where the joints above the legs do."""


def repair_swaps(
    paths: FloatArray, confidence: FloatArray, line: Timeline, scales: FloatArray
) -> list[int]:
    """Exchange sides back wherever a limb was swapped for a short while, and legs, or shoulders,
    arms and hips together, for any. How sure a point is goes with it.

    Parameters
    ----------
    paths : array of shape (2, n_points, n_frames)
        Of clips end to end, NaN where missing; repaired in place.
    confidence : array of shape (n_points, n_frames)
        Of the same, repaired in place.
    scales : array of shape (n_clips,)
        Body heights in the unit of ``paths``.

    Returns
    -------
    for each clip the count of stretches exchanged back
    """
    counts = [0] * len(line.spans)
    apart = paths.take(_LEFT, axis=1) - paths.take(_RIGHT, axis=1)
    apart /= scales[line.clip]
    steps = squared_length(apart[..., 1:] - apart[..., :-1])
    for chain, clip in _may_be_swapped(apart, steps, line):
        span = line.spans[clip]
        for frames in _swapped_runs(apart[:, _PARTS[chain], span], line.times[span]):
            _exchange(paths[..., span], confidence[:, span], _CHAINS[chain], frames)
            counts[clip] += 1
    for clip in _may_stay_swapped(steps, line):
        span = line.spans[clip]
        own = paths[..., span], confidence[:, span]
        counts[clip] += _repair_lasting(*own, line.times[span], scales[clip])
    for clip in _may_trade_feet(paths, line):
        span = line.spans[clip]
        traded = _traded_feet(paths[..., span], line.times[span], scales[clip])
        if traded.any():
            _exchange(paths[..., span], confidence[:, span], _LEGS, np.flatnonzero(traded))
            counts[clip] += _stretches(traded)
    return counts


def _may_be_swapped(apart: FloatArray, steps: FloatArray, line: Timeline) -> list[tuple[int, int]]:
    """The chains, and in which clips, that leap twice, which a swap does at least, or that are not
    seen in some frames.

    ``apart`` has shape (2, n_joints, n_frames), the chains' joints one after the other; ``steps``,
    shape (n_joints, n_frames - 1), is how far it goes, squared.
    """
    leaps = np.zeros(apart.shape[1:], dtype=bool)
    leaps[:, 1:] = steps > _SWAP_JUMP**2
    leaps[:, line.first] = False
    unseen = np.logical_and.reduceat(np.isnan(apart[0]), _STARTS)
    if not (leaps.any() or unseen.any()):
        return []
    count = np.add.reduceat(np.logical_or.reduceat(leaps, _STARTS), line.first, axis=1, dtype=int)
    some = np.logical_or.reduceat(unseen, line.first, axis=1)
    gappy = some & ~np.logical_and.reduceat(unseen, line.first, axis=1)
    return [(chain, clip) for chain, clip in np.argwhere((count > 1) | gappy).tolist()]


def _may_stay_swapped(steps: FloatArray, line: Timeline) -> list[int]:
    """The clips in which shoulders, and arms or hips with them, leap at once; quickly told.

    ``steps`` as in :func:`_may_be_swapped`.
    """
    leap = _leap_together(steps)
    return sorted(set(line.clip[1:][leap & line.within(1)].tolist()))


def _leap_together(steps: FloatArray) -> BoolArray:
    """Whether shoulders, and arms or hips with them, leap in each step, shape (n_frames - 1,).

    ``steps``, shape (n_joints, n_frames - 1), are the squared ways of left minus right.
    """
    shoulders, *others = (np.fmax.reduce(steps[part]) for part in _PARTS[:-1])
    return np.asarray(
        (shoulders > _SHOULDERS_JUMP**2) & (np.fmax.reduce(others) > _SWAP_JUMP**2), dtype=bool
    )


def _may_trade_feet(paths: FloatArray, line: Timeline) -> list[int]:
    """The clips in which one ankle is ever seen on the other side of the other than just before."""
    ankles = paths[:, _LEGS[0][_ANKLE]] - paths[:, _LEGS[1][_ANKLE]]
    seen = np.flatnonzero(~np.isnan(ankles[0]))
    clip = line.clip[seen]
    turned = _turned(ankles[:, seen]) & (clip[1:] == clip[:-1])
    return sorted(set(clip[1:][turned].tolist()))


def _repair_lasting(
    paths: FloatArray, confidence: FloatArray, times: FloatArray, scale: float
) -> int:
    """Exchange the sides of shoulders, arms and hips back from where they leap to the opposite at
    once to where they leap back, or to the end of the clip; how many stretches.

    The sides are taken to be right before the first such moment, or, if that comes at once, where
    they are for longer.

    Parameters
    ----------
    paths : array of shape (2, n_points, n_frames)
        Of one clip, changed in place.
    confidence : array of shape (n_points, n_frames)
        Likewise.
    """
    apart = (
        paths.take(_LEFT[_TRUNK_AND_ARMS], axis=1) - paths.take(_RIGHT[_TRUNK_AND_ARMS], axis=1)
    ) / scale
    stay, turn = (
        np.nan_to_num(squared_length(apart[..., 1:] + sign * apart[..., :-1]))
        for sign in (-1.0, 1.0)
    )
    opposite = turn.sum(axis=0) < _SWAP_GAIN * stay.sum(axis=0)
    leaps = np.flatnonzero(opposite & _leap_together(stay)) + 1
    turns = [
        k
        for k in leaps.tolist()
        if _smoother_when_swapped(apart, k, k + 3, slice(max(k - 3, 0), k + 3), _LASTING_GAIN)
    ]
    if not turns:
        return 0
    swapped = np.searchsorted(turns, np.arange(len(times)), side="right") % 2 == 1
    at_once = times[turns[0]] - times[0] < _SETTLED
    if at_once and np.count_nonzero(swapped) > len(swapped) / 2:
        swapped = ~swapped
    for chain in (_FACE, *_CHAINS[:-1]):
        own = paths.take(chain[0], axis=1) - paths.take(chain[1], axis=1)
        if np.nansum(own[..., turns] * own[..., np.array(turns) - 1]) < 0.0:
            _exchange(paths, confidence, chain, np.flatnonzero(swapped))
    return _stretches(swapped)


def _exchange(
    paths: FloatArray,
    confidence: FloatArray,
    sides: tuple[NDArray[np.intp], NDArray[np.intp]],
    frames: NDArray[np.intp],
) -> None:
    left, right = (side[:, None] for side in sides)
    for of_points in (paths, confidence):
        kept = of_points[..., left, frames].copy()
        of_points[..., left, frames] = of_points[..., right, frames]
        of_points[..., right, frames] = kept


def _stretches(mask: BoolArray) -> int:
    return int(np.count_nonzero(mask[:1])) + int(np.count_nonzero(mask[1:] & ~mask[:-1]))


def _traded_feet(paths: FloatArray, times: FloatArray, scale: float) -> BoolArray:
    """Frames in which the legs' sides are exchanged, however long, shape (n_frames,).

    One foot at least stands on the ground all through a swing. Where both ankles change places
    from one frame to the next, it is the sides that were exchanged, and they stay so until the
    ankles are seen in their own places again. The sides are taken to be right before the first
    such moment, or, if that comes at once, where they are for longer.
    """
    traded = np.zeros(len(times), dtype=bool)
    ankles = paths[:, _LEGS[0][_ANKLE]] - paths[:, _LEGS[1][_ANKLE]]
    seen = np.flatnonzero(~np.isnan(ankles[0]))
    legs = paths[:, np.array(_LEGS)] / scale
    for k, exchanged in _turns(legs[..., seen], times[seen]):
        traded[seen[k] :] = exchanged
    at_once = traded.any() and times[np.argmax(traded)] - times[0] < _SETTLED
    return ~traded if at_once and np.count_nonzero(traded) > len(traded) / 2 else traded


def _turns(legs: FloatArray, times: FloatArray) -> Iterator[tuple[int, bool]]:
    """Frames from which on the sides are exchanged (true), or are right again (false).

    ``legs`` has shape (2, 2 sides, n_joints, n_frames), body heights.
    """
    apart, ankles = legs[:, 0] - legs[:, 1], legs[:, :, _ANKLE]
    own, exchanged = ankles.copy(), False
    changed = (np.diff(times) <= _LONGEST_TRADE) & _change_places(ankles)
    for k in map(int, np.flatnonzero(changed | _turned(apart[:, _ANKLE])) + 1):
        around = slice(max(k - 3, 0), k + 3)
        leap = changed[k - 1] and _smoother_when_swapped(apart, k, k + 3, around, _TRADE_GAIN)
        if not (leap or exchanged):
            continue
        homes = [np.median(own[..., _just_before(times, k, t)], axis=-1) for t in _AT_HOME]
        if leap and any(_nearer_exchanged(own[..., k - 1], home) for home in homes):
            continue  # the end of an exchange whose beginning was not seen
        exchanged = all(_nearer_exchanged(ankles[..., k], home) for home in homes)
        own[..., k:] = ankles[:, ::-1, k:] if exchanged else ankles[..., k:]
        yield k, exchanged


def _turned(apart: FloatArray) -> BoolArray:
    """Whether one ankle lies on the other side of the other after each step, as it does wherever
    they change places; ``apart`` has shape (2, n_frames)."""
    turned: BoolArray = (apart[:, 1:] * apart[:, :-1]).sum(axis=0) < 0
    return turned


def _just_before(times: FloatArray, frame: int, seconds: float) -> slice:
    first = int(np.searchsorted(times, times[frame] - seconds))
    return slice(min(first, frame - 1), frame)


def _nearer_exchanged(ankles: FloatArray, home: FloatArray) -> bool:
    """Whether two ankles, shape (2, 2 sides), are nearer to their homes with sides exchanged."""
    return bool(squared_length(ankles[:, ::-1] - home).sum() < squared_length(ankles - home).sum())


def _change_places(ankles: FloatArray) -> BoolArray:
    """Whether both ankles go to each other's place in each step, shape (n_frames - 1,).

    ``ankles`` has shape (2, 2 sides, n_frames), body heights.
    """
    way = (ankles[:, 1] - ankles[:, 0])[:, :-1]
    apart = squared_length(way)
    left, right = np.einsum("xsf,xf->sf", np.diff(ankles), way) / np.maximum(apart, 1e-12)
    changed: BoolArray = (apart >= _FEET_APART**2) & (left >= _TRADED) & (right <= -_TRADED)
    return changed


def _swapped_runs(apart: FloatArray, times: FloatArray) -> list[NDArray[np.intp]]:
    """Frames of every short stretch in which left minus right has the wrong sign.

    ``apart`` has shape (2, n_joints, n_frames). Exchanging sides only turns its sign, so
    a swap begins and ends with a leap to the opposite vector. Sides that really cross
    pass through zero instead, smoothly: there the sign makes the path rougher, not
    smoother, and nothing is touched.
    """
    seen = np.flatnonzero(~np.isnan(apart[0]).all(axis=0))
    apart, moments = apart[..., seen], times[seen]
    leaps = np.flatnonzero(_leaps_to_opposite(apart[..., :-1], apart[..., 1:]))
    runs = []
    while len(leaps) > 1:
        first, last = leaps[0] + 1, leaps[1] + 1
        short = moments[last] - moments[first - 1] <= _LONGEST_SWAP
        around = slice(max(first - 2, 0), last + 2)
        if short and _smoother_when_swapped(apart, first, last, around, _SWAP_GAIN):
            runs.append(seen[first:last])
            leaps = leaps[2:]
        else:
            leaps = leaps[1:]
    return runs


def _leaps_to_opposite(before: FloatArray, after: FloatArray) -> BoolArray:
    stay = squared_length(after - before)
    leaps: BoolArray = np.asarray((stay > _SWAP_JUMP**2).any(axis=0))
    if leaps.any():
        turn = squared_length(after[..., leaps] + before[..., leaps])
        leaps[leaps] = np.nansum(turn - _SWAP_GAIN * stay[:, leaps], axis=0) < 0
    return leaps


def _smoother_when_swapped(
    apart: FloatArray, first: int, last: int, around: slice, gain: float
) -> bool:
    """Whether turning some frames leaves at most a share of the squared roughness around them."""
    swapped = apart.copy()
    swapped[..., first:last] *= -1
    return _roughness(swapped[..., around]) < gain * _roughness(apart[..., around])


def _roughness(path: FloatArray) -> float:
    return float(np.nansum(np.square(np.diff(path, n=2))))
