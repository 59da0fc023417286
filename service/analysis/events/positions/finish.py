"""P10: where the finish holds."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.events.level_crossings import last_time_above
from service.analysis.events.positions.scene import Found, Scene
from service.analysis.pose.geometry import distance
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray

_HOLD: Final[float] = 0.2
"""Seconds for which the hands must hold for a finish; judgement: a recoil comes later."""
_HOLD_SHARE: Final[float] = 1.2
"""The same as a share of the time from P7 to P9, so that a slow swing holds longer; judgement."""
_HELD: Final[float] = 0.025
"""Body heights within which they hold: more than jitter, less than any way on; judgement."""
LEAST_HOLD: Final[float] = 0.05
"""Seconds of the hold that the clip must show; judgement."""
_FINISH_LOW: Final[float] = -0.05
"""Body heights against the hips above which hands in a finish are, that of a chip too."""
_FINISH_NEAR: Final[FloatArray] = np.array([0.02])
"""Body heights from where the hands hold within which jitter lets them be told to be there."""


def find_finish(scene: Scene, impact: Found | None, arm: Found | None) -> Found | None:
    """Where the hands come to hold after the swing through."""
    if impact is None:
        return None
    after = arm or impact
    hold = max(_HOLD, _HOLD_SHARE * (after.time - impact.time))
    clock, path = scene.tracks.times, scene.tracks.path
    first = int(np.searchsorted(clock, after.time))
    seen = ~np.isnan(path[:, 0] + path[:, 1])
    if np.count_nonzero(seen) < 2 or first >= len(clock):
        return None
    later = clock[first:, None] + hold * np.array([0.0, 1.0 / 3.0, 2.0 / 3.0, 1.0])
    x, y = (np.interp(later, clock[seen], path[seen, k]) for k in (0, 1))
    strays = np.maximum.reduce(np.hypot(x - x[:, :1], y - y[:, :1]), axis=1)
    held = max(_HELD, 3.0 * float(scene.noise[Point.LEAD_WRIST]))
    holds = np.flatnonzero((strays < held) & (scene.tracks.height[first:] > _FINISH_LOW))
    if holds.size == 0 or clock[-1] - clock[first + holds[0]] < LEAST_HOLD:
        return None
    rest = first + int(holds[0])
    home = np.array([0.5 * np.add.reduce(each[holds[0], 2:]) for each in (x, y)])
    left = distance(path, home)
    away = last_time_above(clock[first : rest + 1], left[first : rest + 1], _FINISH_NEAR)
    time = float(clock[rest]) if np.isnan(away[0]) else float(away[0])
    return Found(time, scene.frame + 0.03)
