"""P7: the clubhead back at the ball, or the hands where they are lowest."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.events.positions.searches.levels import crossing
from service.analysis.events.positions.searches.scene import Found, Scene, lowest_frame
from service.analysis.pose.geometry import within
from service.analysis.types import FloatArray, View

_AT_BALL: Final[float] = 0.1
"""Seconds before the takeaway over which the clubhead's place behind the ball is taken."""
_BEFORE_LOW: Final[float] = 0.25
_AFTER_LOW: Final[float] = 0.15
"""Seconds before and after the hands' low point between which impact is looked for; common
practice: the club takes some 0.1 s from lead arm parallel to the ball."""


def find_impact(scene: Scene, start: Found | None) -> Found | None:
    """The clubhead back at the ball, or where that is not seen the hands at their lowest.

    Down the line the clubhead passes the ball along the line of sight. The hands' low point is a
    first guess only: a handle that rises through impact is lowest before it, and the network
    sees when hands and arms are back where they were.
    """
    low = scene.swing.low
    if low is None:
        return None
    by_club = _impact_by_club(scene, start) if scene.view is View.FACE_ON else None
    return by_club or _lowest(scene, scene.tracks.height, slice(max(low - 2, 0), low + 3))


def _impact_by_club(scene: Scene, start: Found | None) -> Found | None:
    head, times, low = scene.clubhead, scene.tracks.times, scene.swing.low
    if start is None or low is None or head is None:
        return None
    resting = (times >= start.time - _AT_BALL) & (times <= start.time) & ~np.isnan(head[:, 0])
    ball = np.mean(head[resting, 0]) if resting.any() else np.interp(start.time, times, head[:, 0])
    about_low = scene.window(times[low] - _BEFORE_LOW, times[low] + _AFTER_LOW)
    # At the top of a long swing the clubhead passes over the ball too.
    return crossing(scene, head[:, 0] - ball, about_low, rising=True, last=True)


def _lowest(scene: Scene, height: FloatArray, near: slice) -> Found | None:
    """Sub-frame time of the lowest point."""
    window = height[near]
    if np.isnan(window).all():
        return None
    time = _lowest_time(scene.tracks.times, height, near.start + lowest_frame(window))
    return Found(time, 0.4 * scene.frame + 0.008)


def _lowest_time(clock: FloatArray, height: FloatArray, k: int) -> float:
    """Sub-frame time of a low near frame ``k``, from the parabola through three samples."""
    if not 0 < k < len(clock) - 1 or np.isnan(height[k - 1 : k + 2]).any():
        return float(clock[k])
    before, after = clock[k] - clock[k - 1], clock[k + 1] - clock[k]
    fall, rise = (height[k] - height[k - 1]) / before, (height[k + 1] - height[k]) / after
    bend = (rise - fall) / (before + after)
    if bend <= 0.0:
        return float(clock[k])
    slope = fall + bend * before
    return float(clock[k]) + within(float(-slope / (2.0 * bend)), -float(before), float(after))
