"""The same motion by another clock: what a body does stays, how fast it does it changes.

Where positions are is told by where body and club are, whatever the clock, so that a rule learnt
on such motions goes by places rather than by one generator's habit of starting and stopping. One
clock moves all of the body; the make ``retimed`` moves its parts apart, which this does not.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from training.data.augmented.by_a_clock import ByAClock
from training.data.sources import FilmedSwing

_STEP: Final[float] = 0.002
"""Seconds between the moments at which the clock is told."""
_CHANGES: Final[tuple[int, int]] = (2, 5)
"""How many changes of pace there are anywhere in the swing."""
_CHANGE: Final[float] = 0.35
_END_CHANGE: Final[float] = 0.45
"""Spread of the logarithm of the pace at a change, and at those about start and finish."""
_TOP_CHANGE: Final[float] = 0.7
"""The same about the top, where some linger and others whip round."""
_WIDTHS: Final[tuple[float, float]] = (0.03, 0.25)
_END_WIDTHS: Final[tuple[float, float]] = (0.03, 0.15)
"""How long changes last (one standard deviation), in lengths of the swing."""
_BESIDE: Final[float] = 0.05
"""Spread of how far from start, top and finish those lie, in lengths of the swing."""
_MOST: Final[float] = 1.2
"""Largest logarithm of the pace."""


class Reclocked(ByAClock):
    """A motion by another clock."""

    @property
    def swing_start(self) -> float:
        """When the swing begins, from rest, seconds."""
        return float(np.interp(self.motion.swing_start, self.own, self.told))

    @property
    def position_times(self) -> FloatArray:
        """Times of P1 to P10 in seconds, NaN where not reached, shape (10,)."""
        return np.interp(self.motion.position_times, self.own, self.told)

    def joints(self, times: FloatArray) -> FloatArray:
        """Joints of shape (n_times, N_POINTS, 3)."""
        return self.motion.joints(np.interp(times, self.told, self.own))


def reclocked(motion: FilmedSwing, rng: np.random.Generator) -> FilmedSwing:
    """A motion by a clock drawn at random."""
    known = motion.position_times[np.isfinite(motion.position_times)]
    start, length = float(known[0]), float(np.ptp(known))
    own = np.arange(0.0, motion.duration + _STEP, _STEP)
    pace = np.zeros_like(own)
    for _ in range(int(rng.integers(_CHANGES[0], _CHANGES[1] + 1))):
        at = start + length * rng.uniform(-0.1, 1.1)
        pace += _change(rng, own, at, length, _CHANGE, _WIDTHS)
    top = float(motion.position_times[3])
    for turn, change in ((start, _END_CHANGE), (top, _TOP_CHANGE), (start + length, _END_CHANGE)):
        at = turn + length * _BESIDE * rng.standard_normal()
        pace += _change(rng, own, at, length, change, _END_WIDTHS)
    slower = np.exp(np.clip(pace, -_MOST, _MOST))
    told = np.concatenate([[0.0], np.cumsum(0.5 * _STEP * (slower[1:] + slower[:-1]))])
    return Reclocked(motion, own, told)


def _change(
    rng: np.random.Generator,
    own: FloatArray,
    at: float,
    length: float,
    size: float,
    widths: tuple[float, float],
) -> FloatArray:
    width = length * np.exp(rng.uniform(*np.log(widths)))
    return np.asarray(size * rng.standard_normal() * np.exp(-0.5 * ((own - at) / width) ** 2))
