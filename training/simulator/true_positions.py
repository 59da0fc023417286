"""The true positions P1 to P10 of a motion, by definition rather than by key pose."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray

_STEP: Final = 0.002
"""Seconds between the moments looked at."""
_IN_PLACE: Final = 0.01
"""Statures within which hands and club are still in place at address, the hands in the finish; as
:mod:`service.analysis.events.positions` defines P1 and P10."""
_USUAL_STATURE: Final = 1.75
"""Metres, where a player's own is not given."""
_STOPPED: Final = 0.01
"""Share of their greatest speed coming down below which the hands hold in the finish; judgement."""
_TURN: Final = 0.2
"""Downswings before and after a moment over which the hands' way tells whether they turn back;
judgement."""
_AT_TOP: Final = 0.05
"""Degrees by which the lead arm has turned back when the downswing starts."""


def position_times(
    joints_at: Callable[[FloatArray], FloatArray],
    start: float,
    end: float,
    stature: float = _USUAL_STATURE,
) -> FloatArray:
    """Times of P1 to P10 of a swing that starts at rest, shape (10,), seconds.

    - P1: the takeaway begins: hands or clubhead leave their place at address, 1 % of body height
      away for good.
    - P2: the shaft is first parallel to the ground; P3: the lead arm (shoulder to wrist) is.
    - P4: the lead arm, seen face-on, turns back; the end of a pause there.
    - P5: the lead arm is parallel to the ground again; P6: the shaft is, for the last
      time before impact.
    - P7: the clubhead is back above its place at address, along the target line.
    - P8: the shaft is first parallel to the ground after impact; P9: the trail arm is.
    - P10: the finish: the hands have come within 1 % of body height of where they stop, be it
      that they hold there or turn back. A shaft or an arm that comes level no sooner, as after a
      short swing, is not reached: no position comes after the finish.

    Parameters
    ----------
    joints_at : callable
        Times of shape (n,) to canonical joints of shape (n, N_POINTS, 3).
    start, end : float
        Seconds between which the one swing lies.
    stature : float
        Metres.

    Returns
    -------
    array of shape (10,); NaN for positions the swing never reaches (P3 of a chip, say).
    """
    times = np.arange(start, end + _STEP, _STEP)
    joints = joints_at(times)
    shaft = joints[:, Point.CLUBHEAD, 1] - joints[:, Point.GRIP_END, 1]
    lead = joints[:, Point.LEAD_WRIST] - joints[:, Point.LEAD_SHOULDER]
    trail = joints[:, Point.TRAIL_WRIST, 1] - joints[:, Point.TRAIL_SHOULDER, 1]
    head = joints[:, Point.CLUBHEAD]

    top = top_frame(lead)
    hands = 0.5 * (joints[:, Point.LEAD_WRIST] + joints[:, Point.TRAIL_WRIST])
    impact = impact_frame(head, float(hands[0, 1]), top)
    near = _IN_PLACE * stature
    back, down, after = slice(0, top + 1), slice(top, impact + 1), slice(impact, times.size)
    p9 = _rising(times, trail, after)
    through = impact if np.isnan(p9) else int((p9 - start) / _STEP)
    p8, p10 = _rising(times, shaft, after), times[finish_frame(hands, (top, impact, through), near)]
    return np.array(
        [
            times[takeaway_frame(np.stack([hands, head], 1)[: top + 1], near)],
            _rising(times, shaft, back),
            _rising(times, lead[:, 1], back),
            times[top],
            _falling(times, lead[:, 1], down),
            _falling(times, shaft, down),
            _crossing(times, head[:, 0] - head[0, 0], impact - 1),
            p8 if p8 < p10 else np.nan,
            p9 if p9 < p10 else np.nan,
            p10,
        ]
    )


def takeaway_frame(paths: FloatArray, near: float) -> int:
    """Last frame at which paths of shape (n, n_paths, 3), NaN where not seen, are all nearer than
    so much to where they are at the first."""
    away = np.fmax.reduce(np.linalg.norm(paths - paths[0], axis=-1), axis=1)
    return int(np.flatnonzero(away < near)[-1])


def top_frame(lead: FloatArray) -> int:
    """Last frame before the lead arm, its direction of shape (n, 3), turns back as seen face-on."""
    swept = np.degrees(np.unwrap(np.arctan2(lead[:, 0], -lead[:, 1])))
    lowest = int(np.argmin(swept))
    return lowest + int(np.argmax(swept[lowest:] > swept[lowest] + _AT_TOP)) - 1


def impact_frame(head: FloatArray, hands: float, top: int) -> int:
    """First frame after the top at which the clubhead, shape (n, 3), has come back over its place
    at address from behind, low.

    At the top of a long swing it passes over the ball too, but higher than ``hands``, the height
    of the hands at address.
    """
    ahead = head[1:, 0] > head[0, 0]
    passes = ahead & (head[:-1, 0] <= head[0, 0]) & (head[1:, 1] < hands)
    return _first(passes, top) + 1


def finish_frame(hands: FloatArray, frames: tuple[int, int, int], near: float) -> int:
    """First frame from which the hands, shape (n, 3), are nearer than so much to where they stop.

    They stop where they come to hold or turn back, as a recoil does.

    Parameters
    ----------
    frames
        Top, impact, and that from which on they may stop.
    """
    top, impact, through = frames
    speed = np.linalg.norm(np.gradient(hands, axis=0), axis=-1)
    slow = np.flatnonzero(speed[through:] < _STOPPED * speed[top : impact + 1].max())
    stop = through + int(slow[0]) if slow.size else len(hands) - 1
    beside = max(round(_TURN * (impact - top)), 1)
    way = hands[beside:] - hands[:-beside]
    back = np.flatnonzero((way[:-beside] * way[beside:]).sum(axis=1)[through - beside :] < 0.0)
    if back.size:
        stop = min(stop, through + int(back[0]))
    left = np.linalg.norm(hands[impact : stop + 1] - hands[stop], axis=-1)
    far = np.flatnonzero(left >= near)
    return min(impact + int(far[-1]) + 1, stop) if far.size else impact


def _first(mask: NDArray[np.bool_], start: int) -> int:
    return start + int(np.argmax(mask[start:]))


def _rising(times: FloatArray, curve: FloatArray, part: slice) -> float:
    within = curve[part]
    crossings = np.flatnonzero((within[:-1] < 0) & (within[1:] >= 0))
    return _crossing(times, curve, part.start + int(crossings[0])) if crossings.size else np.nan


def _falling(times: FloatArray, curve: FloatArray, part: slice) -> float:
    within = curve[part]
    crossings = np.flatnonzero((within[:-1] > 0) & (within[1:] <= 0))
    return _crossing(times, curve, part.start + int(crossings[-1])) if crossings.size else np.nan


def _crossing(times: FloatArray, curve: FloatArray, before: int) -> float:
    a, b = curve[before], curve[before + 1]
    return float(times[before] + _STEP * a / (a - b))
