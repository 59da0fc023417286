"""P1 to P10 by the catalogue's words, in space.

- P1: hands or clubhead leave their place at address, 1 % of stature away for good.
- P2, P6, P8: the shaft is level; P3, P5: the lead arm, P9: the trail arm, shoulder to wrist.
- P4: the lead arm turns back against its shoulder; the end of a pause there.
- P7: the clubhead is back above its place at address, along the target line.
- P10: the hands are within 1 % of stature of where they stop.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import BoolArray, FloatArray

if TYPE_CHECKING:
    from tests.reference.stranger.golfer.clock import Clock  # which a swing is read by

_IN_PLACE: Final = 0.01
"""Statures within which hands and clubhead are in place, as the catalogue has it."""
_AT_TOP: Final = 0.003
"""Statures along the way down within which a lead arm that pauses is at the top; judgement."""
_REST: Final[tuple[float, float]] = (0.35, 0.02)
"""Seconds before the takeaway between which the player stands still, as the keys have it."""


def position_times(joints: FloatArray, clock: Clock) -> FloatArray:
    """Times of P1 to P10 in seconds, shape (10,), NaN where not reached.

    Parameters
    ----------
    joints : array of shape (n, N_POINTS, 3)
        Statures, at the clock's times.
    """
    times, keys = clock.times, clock.keys
    hands = 0.5 * (joints[:, Point.LEAD_WRIST] + joints[:, Point.TRAIL_WRIST])
    head = joints[:, Point.CLUBHEAD]
    shaft = head[:, 1] - joints[:, Point.GRIP, 1]
    lead = joints[:, Point.LEAD_WRIST] - joints[:, Point.LEAD_SHOULDER]
    trail = joints[:, Point.TRAIL_WRIST, 1] - joints[:, Point.TRAIL_SHOULDER, 1]
    rest = (times > keys[0] - _REST[0]) & (times < keys[0] - _REST[1])
    place = head[rest].mean(axis=0)

    found = np.full(10, np.nan)
    found[0] = _leaving(times, [hands, head], rest, before=keys[2])
    found[3] = top = _turning(lead, clock)
    found[1] = crossing(times, shaft, (keys[0], top))
    found[2] = crossing(times, lead[:, 1], (keys[0], top), last=True)
    found[4] = arm = crossing(times, -lead[:, 1], (top, keys[6]))
    found[6] = impact = crossing(times, head[:, 0] - place[0], (arm, keys[7]))
    found[5] = crossing(times, -shaft, (arm, impact), last=True)
    found[7] = crossing(times, shaft, (impact, keys[9]))
    found[8] = crossing(times, trail, (impact, keys[9]))
    found[9] = _stopping(hands, clock)
    return found


def crossing(
    times: FloatArray, curve: FloatArray, between: tuple[float, float], *, last: bool = False
) -> float:
    """First or last time at which a curve rises through 0; NaN if it doesn't."""
    within = (times[:-1] >= between[0]) & (times[1:] <= between[1])
    rising = np.flatnonzero(within & (curve[:-1] < 0.0) & (curve[1:] >= 0.0))
    if not rising.size:
        return float("nan")
    k = int(rising[-1 if last else 0])
    share = curve[k] / (curve[k] - curve[k + 1])
    return float(times[k] + share * (times[k + 1] - times[k]))


def _leaving(times: FloatArray, paths: list[FloatArray], rest: BoolArray, before: float) -> float:
    """Last time at which all paths are in their place at rest."""
    away = [np.linalg.norm(path - path[rest].mean(axis=0), axis=-1) for path in paths]
    near = (np.max(away, axis=0) <= _IN_PLACE) & (times < before)
    return float(times[np.flatnonzero(near)[-1]])


def _turning(arm: FloatArray, clock: Clock) -> float:
    """When the lead arm, direction and length of shape (n, 3), starts down."""
    times, keys = clock.times, clock.keys
    top, level = np.searchsorted(times, [keys[3] + clock.pause, keys[4]])
    down = arm[level] - arm[top]
    along = arm @ (down / np.linalg.norm(down))
    near = np.flatnonzero((times > keys[2]) & (times < keys[4]))
    lowest = along[near].min()
    still = _AT_TOP if clock.pause > 0.0 else 0.0
    return float(times[near[np.flatnonzero(along[near] <= lowest + still)[-1]]])


def _stopping(hands: FloatArray, clock: Clock) -> float:
    """First time from which the hands stay where they stop: at the end, or where they turn back."""
    times, keys = clock.times, clock.keys
    stop = len(times) - 1
    if clock.recoil > 0.0:
        first = keys[9] - 0.25 * (keys[9] - keys[6])
        near = np.flatnonzero((times > first) & (times < keys[9] + 0.6 * clock.recoil))
        speed = np.linalg.norm(np.gradient(hands, axis=0), axis=-1)
        stop = int(near[np.argmin(speed[near])])
    away = np.linalg.norm(hands[: stop + 1] - hands[stop], axis=-1) > _IN_PLACE
    return float(times[np.flatnonzero(away)[-1] + 1])
