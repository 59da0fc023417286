"""Left and right exchanged by a pose estimator, and exchanged back.

Like all conditioning, told in seconds and body heights, and the same in a shifted, turned,
mirrored or scaled picture.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.pose.geometry import squared_length
from service.analysis.pose.points import both_sides
from service.analysis.pose.repairs.sides import (
    LEGS,
    SETTLED,
    exchange,
    smoother_when_swapped,
    stretches,
)
from service.analysis.pose.repairs.traded_feet import may_trade_feet, traded_feet
from service.analysis.pose.timeline import Timeline
from service.analysis.types import BoolArray, FloatArray

_LONGEST_SWAP: Final = 0.25
"""Seconds. A longer exchange of sides is more likely the player than the estimator, unless both
feet change places at once, or shoulders, arms and hips do."""
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

_FACE: Final = both_sides("eye", "ear")
_CHAINS: Final = (
    both_sides("shoulder"),
    both_sides("elbow", "wrist", "hand"),
    both_sides("hip"),
    LEGS,
)
"""Joints whose sides an estimator exchanges together."""
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
            exchange(paths[..., span], confidence[:, span], _CHAINS[chain], frames)
            counts[clip] += 1
    for clip in _may_stay_swapped(steps, line):
        span = line.spans[clip]
        own = paths[..., span], confidence[:, span]
        counts[clip] += _repair_lasting(*own, line.times[span], scales[clip])
    for clip in may_trade_feet(paths, line):
        span = line.spans[clip]
        traded = traded_feet(paths[..., span], line.times[span], scales[clip])
        if traded.any():
            exchange(paths[..., span], confidence[:, span], LEGS, np.flatnonzero(traded))
            counts[clip] += stretches(traded)
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
        if smoother_when_swapped(apart, k, k + 3, slice(max(k - 3, 0), k + 3), _LASTING_GAIN)
    ]
    if not turns:
        return 0
    swapped = np.searchsorted(turns, np.arange(len(times)), side="right") % 2 == 1
    at_once = times[turns[0]] - times[0] < SETTLED
    if at_once and np.count_nonzero(swapped) > len(swapped) / 2:
        swapped = ~swapped
    for chain in (_FACE, *_CHAINS[:-1]):
        own = paths.take(chain[0], axis=1) - paths.take(chain[1], axis=1)
        if np.nansum(own[..., turns] * own[..., np.array(turns) - 1]) < 0.0:
            exchange(paths, confidence, chain, np.flatnonzero(swapped))
    return stretches(swapped)


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
        if short and smoother_when_swapped(apart, first, last, around, _SWAP_GAIN):
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
