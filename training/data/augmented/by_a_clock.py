"""A motion shown by another clock than its own."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from service.analysis.types import Club, FloatArray, Handedness, Intent
from training.data.sources import FilmedSwing
from training.data.truth import OfStature


@dataclass(frozen=True)
class ByAClock:
    """A motion of which ``own`` seconds are shown at ``told`` seconds, both of shape (n,)."""

    motion: FilmedSwing
    own: FloatArray = field(repr=False)
    told: FloatArray = field(repr=False)

    @property
    def golfer(self) -> OfStature:
        """The player."""
        return self.motion.golfer

    @property
    def intent(self) -> Intent:
        """What the swing was meant to be."""
        return self.motion.intent

    @property
    def handedness(self) -> Handedness:
        """Which way the player plays."""
        return self.motion.handedness

    @property
    def club(self) -> Club:
        """The club in the player's hands."""
        return self.motion.club

    @property
    def duration(self) -> float:
        """Length of the clip in seconds."""
        return float(self.told[-1])

    def canonical_joints(self, times: FloatArray) -> FloatArray:
        """Joints of a right-hander, shape (n_times, N_POINTS, 3)."""
        return self.motion.canonical_joints(np.interp(times, self.told, self.own))
