"""P10: where the hands hold in the finish, or turn back."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.events.level_crossings import last_time_above
from service.analysis.events.positions.scene import Found, Scene
from service.analysis.pose.geometry import distance
from service.analysis.pose.points import Point
from service.analysis.types import BoolArray, FloatArray

_HOLD: Final[float] = 0.2
"""Seconds for which the hands must hold for a finish; judgement: a recoil comes later."""
_HOLD_SHARE: Final[float] = 1.2
"""The same as a share of the time from P7 to P9, so that a slow swing holds longer; judgement."""
_HELD: Final[float] = 0.025
"""Body heights within which they hold: more than jitter, less than any way on; judgement."""
_TURN: Final[float] = 0.5
"""Share of the time of holding before and after a moment over which hands are told to turn back."""
_TURNED: Final[float] = -0.5
"""Cosine between the ways before and after below which they do: by more than 120 degrees;
judgement."""
LEAST_HOLD: Final[float] = 0.05
"""Seconds of the hold that the clip must show; judgement."""
_FINISH_LOW: Final[float] = -0.05
"""Body heights against the hips above which hands in a finish are, that of a chip too."""
_FINISH_NEAR: Final[FloatArray] = np.array([0.02])
"""Body heights from where the hands hold within which jitter lets them be told to be there."""


def find_finish(scene: Scene, impact: Found | None, arm: Found | None) -> Found | None:
    """Where the hands come to hold after the swing through, or turn back."""
    if impact is None:
        return None
    after = arm or impact
    hold = max(_HOLD, _HOLD_SHARE * (after.time - impact.time))
    clock, path = scene.tracks.times, scene.tracks.path
    first = int(np.searchsorted(clock, after.time))
    seen = ~np.isnan(path[:, 0] + path[:, 1])
    if np.count_nonzero(seen) < 2 or first >= len(clock):
        return None
    later = clock[first:, None] + hold * np.array([-_TURN, 0.0, 1.0 / 3.0, _TURN, 2.0 / 3.0, 1.0])
    places = np.stack([np.interp(later, clock[seen], path[seen, k]) for k in (0, 1)], axis=-1)
    held = max(_HELD, 3.0 * float(scene.noise[Point.LEAD_WRIST]))
    high = scene.tracks.height[first:] > _FINISH_LOW
    holds = np.flatnonzero(high & _stays(places, held))
    # Before P9, seen down the line, hands turn back in the picture that go on in space.
    turns = np.flatnonzero(high & (arm is not None) & _turns_back(places, 0.5 * held))
    if turns.size and not (holds.size and holds[0] <= turns[0]):
        rest, home = first + int(turns[0]), places[turns[0], 1]
    elif holds.size and clock[-1] - clock[first + holds[0]] >= LEAST_HOLD:
        rest, home = first + int(holds[0]), 0.5 * np.add.reduce(places[holds[0], 4:])
    else:
        return None
    left = distance(path, home)
    away = last_time_above(clock[first : rest + 1], left[first : rest + 1], _FINISH_NEAR)
    time = float(clock[rest]) if np.isnan(away[0]) else float(away[0])
    return Found(time, scene.frame + 0.03)


def _stays(places: FloatArray, near: float) -> BoolArray:
    """Whether hands stay nearer than so much for the time of holding, shape (n,).

    ``places`` of shape (n, 6, 2) are those a turn before a moment, then, and after it.
    """
    strays = places[:, [2, 4, 5]] - places[:, [1]]
    return np.asarray(np.maximum.reduce(np.hypot(strays[..., 0], strays[..., 1]), axis=1) < near)


def _turns_back(places: FloatArray, least: float) -> BoolArray:
    """Whether hands go at least so far before and after a moment, and back, shape (n,)."""
    come, go = places[:, 1] - places[:, 0], places[:, 3] - places[:, 1]
    before, after = np.hypot(*come.T), np.hypot(*go.T)
    back = np.add.reduce(come * go, axis=1) < _TURNED * before * after
    return np.asarray(back & (np.minimum(before, after) > least))
