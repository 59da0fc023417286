"""How unsettled a pose estimator is from frame to frame, by how fast the player is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.ndimage import maximum_filter1d

from service.analysis.pose.points import ANATOMICAL, CLUB_POINTS
from service.analysis.types import FloatArray
from training.simulator.filming.estimating.common_errors import shared, wander

_BEFORE, _AFTER = 0.05, 0.30
"""Seconds before and after a moment in which the speed of the whole body counts: errors settle
slowly."""
_CALM: Final[float] = 0.35
_BRISK: Final[float] = 1.1
_LIVELY: Final[float] = 0.8
_MOST_LIVELY: Final[float] = 4.0
"""The jitter's share while nobody moves; the speeds of the joint and of the whole body (its mean
over the points), body heights a second, at which it is once what the table says; and its bound. In
real clips all joints jitter three to ten times as much in the downswing as at address: a smoothing
that is firm at rest gives way when the player is fast."""
_PACE: Final[float] = 0.35
_PACES: Final[tuple[float, float]] = (0.3, 1.4)
"""The speed of the whole body at which drifts change as fast as was measured, and how much slower
and faster they do: of the same pose an estimator makes the same error, so that it stays while the
player stands (a judgement, by the jitter of elbows and wrists at address, a tenth of what it is in
the downswing)."""
_BURSTS: Final[float] = 1.0
_BURST_SECONDS: Final[float] = 0.06
_MOST_BURST: Final[float] = 4.0
_BURSTS_ALIKE: Final[FloatArray] = shared(clip=0.4, part=0.2, limb=0.2)
"""Spread of the logarithm by which jitter and the pace of drifts come and go besides, how long that
lasts, the most that it quickens a drift, and how points have it in common. Set so that the largest
tenth of a joint's second differences are 6 to 12 times those of its calmest quarter, as in real
clips."""
_BODY: Final[list[int]] = [i for i, name in enumerate(ANATOMICAL) if name not in CLUB_POINTS]


@dataclass(frozen=True)
class Pace:
    """How fast a clip's points are.

    Attributes
    ----------
    times : array of shape (n_frames,)
        Seconds.
    speed : array of shape (n_frames, n_points)
        Body heights a second.
    whole : array of shape (n_frames,)
        How fast the body as a whole is or just was, body heights a second.
    """

    times: FloatArray
    speed: FloatArray
    whole: FloatArray

    @classmethod
    def of(cls, points: FloatArray, times: FloatArray) -> Pace:
        """Of points in body heights, shape (n_frames, n_points, 2)."""
        speed = np.zeros(points.shape[:2])
        if times.size > 1:
            speed = np.nan_to_num(np.linalg.norm(np.gradient(points, times, axis=0), axis=-1))
        step = (times[-1] - times[0]) / max(times.size - 1, 1)
        before, after = (round(seconds / max(step, 1e-6)) for seconds in (_BEFORE, _AFTER))
        reach = {"size": before + after + 1, "origin": (after - before) // 2}
        return cls(times, speed, maximum_filter1d(speed[:, _BODY].mean(axis=1), **reach))

    def liveliness(self, rng: np.random.Generator) -> FloatArray:
        """Factor on the jitter, shape (n_frames, n_points)."""
        growth = np.hypot(self.whole[:, None] / _LIVELY, self.speed / _BRISK)
        bursts = self._bursts(len(_BURSTS_ALIKE), rng) @ _BURSTS_ALIKE
        return np.minimum(np.hypot(_CALM, growth), _MOST_LIVELY) * np.exp(bursts)

    def clock(self, rng: np.random.Generator) -> FloatArray:
        """Seconds by which drifts change, shape (n_frames,)."""
        bursts = np.exp(self._bursts(1, rng)[:, 0] - 0.5 * _BURSTS**2)
        pace = np.clip(self.whole / _PACE, *_PACES) * np.minimum(bursts, _MOST_BURST)
        return np.append(0.0, np.cumsum(0.5 * (pace[1:] + pace[:-1]) * np.diff(self.times)))

    def _bursts(self, n: int, rng: np.random.Generator) -> FloatArray:
        return _BURSTS * wander((len(self.times), n), self.times, _BURST_SECONDS, rng)
