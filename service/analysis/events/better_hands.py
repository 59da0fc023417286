"""Where the hands are: the middle of the wrists, or the better wrist where one of them was lost.

Both hands hold one handle, so wrists that are far apart say that one of them is not where it seems.
"""

from __future__ import annotations

from math import isnan
from typing import Final

import numpy as np

from service.analysis.pose.geometry import frame_interval
from service.analysis.pose.timeline import Timeline
from service.analysis.types import FloatArray

_BRIDGE: Final[float] = 0.3
"""Seconds over which the hands' path is bridged when neither wrist is seen."""
ON_ONE_HANDLE: Final[float] = 0.10
"""Body heights between the wrists up to which both are followed: two hands' breadths on a grip."""
_APART: Final[float] = 0.16
"""Body heights between the wrists from which only the better one is followed."""
_REACH: Final[float] = 15.0
"""Log odds for the better wrist of one body height more from its shoulder: one arm at least is
long in a swing, and an arm that is lost collapses onto the trunk."""
_SEEN: Final[float] = 10.0
"""Log odds for the better wrist of one unit of confidence."""
_ROUGH: Final[float] = 40.0
"""Log odds against a wrist of one body height of bend between neighbouring moments."""
_STEADY: Final[float] = 0.15
"""Seconds over which the better wrist is chosen; which one it is does not change from one frame
to the next."""
_BEND: Final[float] = 1 / 30
"""Seconds between the moments from which a path's bend is told."""


def put_better_hands(
    hands: FloatArray, joints: FloatArray, apart: FloatArray, sure: FloatArray, line: Timeline
) -> None:
    """Put the better wrist in the place of the hands where these are far apart, in place.

    Both hands hold one handle, so wrists that are far apart say that one of them was lost; then
    the better one alone is followed. Short gaps are bridged.

    Parameters
    ----------
    hands : array of shape (n_frames, 2)
        The middle of the wrists.
    joints : array of shape (n_frames, n_followed, 2)
        Both wrists, then both shoulders, then others.
    apart : array of shape (n_frames,)
        Distance between the wrists.
    sure : array of shape (n_frames, 2 sides)
        Confidence of the wrists.
    line : Timeline
        The clips that these frames belong to.
    """
    for clip in line.clips_with(apart > ON_ONE_HANDLE):
        span = line.spans[clip]
        hands[span] = _better_hands(joints[span], apart[span], sure[span], line.times[span])
    for clip in line.clips_with(np.isnan(hands[:, 0] + hands[:, 1])):
        span = line.spans[clip]
        hands[span] = bridge(hands[span], line.times[span], _BRIDGE)


def _better_hands(
    joints: FloatArray, apart: FloatArray, sure: FloatArray, times: FloatArray
) -> FloatArray:
    """Where the hands are in a clip in which the wrists are ever far apart, shape (n_frames, 2);
    others as in :func:`put_better_hands`."""
    wrists, shoulders, lost = joints[:, :2], joints[:, 2:4], np.isnan(apart)
    together = np.where((apart <= ON_ONE_HANDLE)[:, None, None], wrists, np.nan)
    together[lost] = wrists[lost]
    middle = 0.5 * (wrists[:, 0] + wrists[:, 1])
    one, other = together[:, :1].T, together[:, 1:].T
    middle[lost] = middle_of(one, other, Timeline.of([times]))[:, 0].T[lost]
    first = 1.0 / (1.0 + np.exp(-odds_of_first(wrists, shoulders, sure, times)))[:, None]
    better = first * wrists[:, 0] + (1.0 - first) * wrists[:, 1]
    alone = np.clip((apart - ON_ONE_HANDLE) / (_APART - ON_ONE_HANDLE), 0.0, 1.0)[:, None]
    return np.where(lost[:, None], middle, middle + alone * (better - middle))


def odds_of_first(
    wrists: FloatArray, shoulders: FloatArray, sure: FloatArray, times: FloatArray
) -> FloatArray:
    """Log odds that the first wrist tells better where the hands are, shape (n_frames,).

    ``wrists`` and ``shoulders`` have shape (n_frames, 2 sides, 2), ``sure``, the confidence of the
    wrists, (n_frames, 2 sides).
    """
    reach = np.hypot(*np.moveaxis(wrists - shoulders, -1, 0))
    frames = max(1, round(_BEND / frame_interval(times)))
    bend = np.zeros(wrists.shape[:2])
    if len(times) > 2 * frames:
        second = wrists[2 * frames :] - 2 * wrists[frames:-frames] + wrists[: -2 * frames]
        bend[frames:-frames] = np.hypot(second[..., 0], second[..., 1])
    merit = _REACH * reach + _SEEN * sure - _ROUGH * bend
    odds = np.nan_to_num(merit[:, 0] - merit[:, 1])
    return _averaged(odds, max(1, round(_STEADY / frame_interval(times))))


def _averaged(values: FloatArray, reach: int) -> FloatArray:
    """Mean over ``reach`` frames on either side, fewer at the ends; shape (n_frames,)."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    frames = np.arange(len(values))
    first, last = np.maximum(frames - reach, 0), np.minimum(frames + reach + 1, len(values))
    return np.asarray((total[last] - total[first]) / (last - first))


def bridge(path: FloatArray, times: FloatArray, longest: float) -> FloatArray:
    """Fill gaps of a path by straight lines where they last no more than ``longest`` seconds.

    Parameters
    ----------
    path : array of shape (n_frames, 2)
    times : array of shape (n_frames,)

    Returns
    -------
    array of shape (n_frames, 2); longer gaps, and frames before the first or after the
    last sample, stay NaN.
    """
    seen = np.flatnonzero(~np.isnan(path[:, 0] + path[:, 1]))
    if seen.size < 2 or seen.size == len(path):
        return path.copy()
    filled = np.column_stack([np.interp(times, times[seen], path[seen, k]) for k in (0, 1)])
    after = np.searchsorted(seen, np.arange(len(times)))
    before = np.clip(np.searchsorted(seen, np.arange(len(times)), side="right") - 1, 0, None)
    after = np.clip(after, None, seen.size - 1)
    too_long = times[seen[after]] - times[seen[before]] > longest
    outside = (np.arange(len(times)) < seen[0]) | (np.arange(len(times)) > seen[-1])
    filled[too_long | outside] = np.nan
    filled[seen] = path[seen]
    return filled


def middle_of(first: FloatArray, second: FloatArray, line: Timeline) -> FloatArray:
    """Middles of pairs of points; where one is missing, the other with the half-gap as the frames
    about it have it. All of shape (2, n_pairs, n_frames)."""
    half = 0.5 * (second - first)
    if not isnan(np.add.reduce(half, axis=None)):
        return np.asarray(first + half)
    for own in half.swapaxes(0, 1):
        for clip in line.clips_with(np.isnan(own[0] + own[1])):
            own[:, line.spans[clip]] = _in_between(own[:, line.spans[clip]])
    middle = first + half
    return np.where(np.isnan(middle), second - half, middle)


def _in_between(half: FloatArray) -> FloatArray:
    """Half-gaps of shape (2, n_frames), those that are missing from the ones about them; 0 where
    none is known."""
    known = np.flatnonzero(~np.isnan(half).any(axis=0))
    if not known.size:
        return np.zeros_like(half)
    frames = np.arange(half.shape[1])
    return np.array([np.interp(frames, known, axis[known]) for axis in half])
