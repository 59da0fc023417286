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
_MOMENTS: Final[FloatArray] = np.array([-_TURN, 0.0, 1.0 / 3.0, _TURN, 2.0 / 3.0, 1.0])
"""Times of holding after a moment at which it is looked where the hands are."""
_LATER: Final = np.array([2, 4, 5])
"""Those of them at which they must still be there."""
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
    seen = (~np.isnan(path[:, 0] + path[:, 1])).nonzero()[0]
    if len(seen) < 2 or first >= len(clock):
        return None
    later, known = clock[first:, None] + hold * _MOMENTS, path.take(seen, axis=0).T
    x, y = (np.interp(later, clock.take(seen), axis) for axis in known)
    held = max(_HELD, 3.0 * float(scene.noise[Point.LEAD_WRIST]))
    high = scene.tracks.height[first:] > _FINISH_LOW
    holds = (high & _stays(x, y, held)).nonzero()[0]
    # Before P9, seen down the line, hands turn back in the picture that go on in space.
    turns = (high & (arm is not None) & _turns_back(x, y, 0.5 * held)).nonzero()[0]
    if turns.size and not (holds.size and holds[0] <= turns[0]):
        rest = first + int(turns[0])
        home = np.array([x[turns[0], 1], y[turns[0], 1]])
    elif holds.size and clock[-1] - clock[first + holds[0]] >= LEAST_HOLD:
        rest = first + int(holds[0])
        home = 0.5 * np.array([x[holds[0], 4] + x[holds[0], 5], y[holds[0], 4] + y[holds[0], 5]])
    else:
        return None
    left = distance(path, home)
    away = last_time_above(clock[first : rest + 1], left[first : rest + 1], _FINISH_NEAR)
    time = float(clock[rest]) if np.isnan(away[0]) else float(away[0])
    return Found(time, scene.frame + 0.03)


def _stays(x: FloatArray, y: FloatArray, near: float) -> BoolArray:
    """Whether hands stay nearer than so much for the time of holding, shape (n,).

    ``x`` and ``y`` are where they are at :data:`_MOMENTS`, of shape (n, 6).
    """
    across, up = x[:, _LATER] - x[:, 1:2], y[:, _LATER] - y[:, 1:2]
    return np.asarray(np.maximum.reduce(across * across + up * up, axis=1) < near * near)


def _turns_back(x: FloatArray, y: FloatArray, least: float) -> BoolArray:
    """Whether hands go at least so far before and after a moment, and back, shape (n,)."""
    come_x, come_y = x[:, 1] - x[:, 0], y[:, 1] - y[:, 0]
    go_x, go_y = x[:, 3] - x[:, 1], y[:, 3] - y[:, 1]
    before = np.sqrt(come_x * come_x + come_y * come_y)
    after = np.sqrt(go_x * go_x + go_y * go_y)
    back = come_x * go_x + come_y * go_y < _TURNED * before * after
    return np.asarray(back & (np.minimum(before, after) > least))
