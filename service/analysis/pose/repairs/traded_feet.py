"""Legs whose sides an estimator exchanged, told by feet that change places on the ground."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from service.analysis.pose.geometry import squared_length
from service.analysis.pose.repairs.sides import LEGS, SETTLED, smoother_when_swapped
from service.analysis.pose.timeline import Timeline
from service.analysis.types import BoolArray, FloatArray

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
_ANKLE: Final = 1
"""Place of the ankle among :data:`~service.analysis.pose.repairs.sides.LEGS`."""


def may_trade_feet(paths: FloatArray, line: Timeline) -> list[int]:
    """The clips in which one ankle is ever seen on the other side of the other than just before;
    ``paths`` of shape (2, n_points, n_frames)."""
    ankles = paths[:, LEGS[0][_ANKLE]] - paths[:, LEGS[1][_ANKLE]]
    seen = np.flatnonzero(~np.isnan(ankles[0]))
    clip = line.clip[seen]
    turned = _turned(ankles[:, seen]) & (clip[1:] == clip[:-1])
    return sorted(set(clip[1:][turned].tolist()))


def traded_feet(paths: FloatArray, times: FloatArray, scale: float) -> BoolArray:
    """Frames in which the legs' sides are exchanged, however long, shape (n_frames,); ``paths``, of
    one clip, have shape (2, n_points, n_frames), and ``scale`` is a body height in their unit.

    One foot at least stands on the ground all through a swing. Where both ankles change places
    from one frame to the next, it is the sides that were exchanged, and they stay so until the
    ankles are seen in their own places again. The sides are taken to be right before the first
    such moment, or, if that comes at once, where they are for longer.
    """
    traded = np.zeros(len(times), dtype=bool)
    ankles = paths[:, LEGS[0][_ANKLE]] - paths[:, LEGS[1][_ANKLE]]
    seen = np.flatnonzero(~np.isnan(ankles[0]))
    legs = paths[:, np.array(LEGS)] / scale
    for k, exchanged in _turns(legs[..., seen], times[seen]):
        traded[seen[k] :] = exchanged
    at_once = traded.any() and times[np.argmax(traded)] - times[0] < SETTLED
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
        leap = changed[k - 1] and smoother_when_swapped(apart, k, k + 3, around, _TRADE_GAIN)
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
