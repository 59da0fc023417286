"""One swing: its joints in space over time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.analysis.pose.points import N_POINTS, swap_sides
from service.analysis.types import Club, FloatArray, Handedness, Intent
from tests.reference.stranger.golfer.arms import swing_arms
from tests.reference.stranger.golfer.clock import Clock, random_clock
from tests.reference.stranger.golfer.faults import put_on
from tests.reference.stranger.golfer.keys import random_keys
from tests.reference.stranger.golfer.lower_body import stand
from tests.reference.stranger.golfer.player import Player, random_player
from tests.reference.stranger.golfer.upper_body import bear
from tests.reference.stranger.positions import position_times

_MIRROR = np.array([-1.0, 1.0, 1.0])


@dataclass(frozen=True)
class Swing:
    """A swing as a right-hander's: x to the target, y up, z from the player to the ball.

    Attributes
    ----------
    space : array of shape (n, N_POINTS, 3)
        Joints in statures at the clock's times; NaN for points the golfer has not.
    face : array of shape (n, 3)
        Unit vectors that the face looks along.
    """

    golfer: Player
    clock: Clock
    space: FloatArray
    face: FloatArray

    @property
    def handedness(self) -> Handedness:
        """Which way the player plays."""
        return self.golfer.handedness

    @property
    def club(self) -> Club:
        """The player's club."""
        return self.golfer.club.kind

    @property
    def intent(self) -> Intent:
        """Full speed or a rehearsal."""
        return self.clock.intent

    @property
    def duration(self) -> float:
        """Seconds."""
        return float(self.clock.times[-1])

    @property
    def swing_start(self) -> float:
        """When the swing begins, seconds."""
        return float(self.clock.keys[0])

    @cached_property
    def position_times(self) -> FloatArray:
        """Times of P1 to P10 by the catalogue's words, in space, seconds, shape (10,)."""
        return position_times(self.space, self.clock)

    def canonical_joints(self, times: FloatArray) -> FloatArray:
        """Joints of shape (n_times, N_POINTS, 3) in metres, as a right-hander's."""
        flat = self.space.reshape(len(self.space), -1)
        columns = [np.interp(times, self.clock.times, column) for column in flat.T]
        return self.golfer.stature * np.stack(columns, axis=1).reshape(-1, N_POINTS, 3)

    def joints(self, times: FloatArray) -> FloatArray:
        """The same in anatomical order, a left-hander's mirrored."""
        joints = self.canonical_joints(times)
        return swap_sides(joints) * _MIRROR if self.handedness is Handedness.LEFT else joints


def random_swing(
    rng: np.random.Generator, faults: Mapping[str, float], rehearsal: bool | None = None
) -> Swing:
    """One swing of one player, who is the same whatever the faults' amounts.

    Parameters
    ----------
    faults
        Amounts by the catalogue's names; 1 is clearly there.
    rehearsal
        Drawn where not given.
    """
    keys = random_keys(rng)
    put_on(keys, faults)
    player = random_player(rng, faults)
    clock = random_clock(rng, faults, rehearsal)
    space = np.full((clock.times.size, N_POINTS, 3), np.nan)
    recoil = float(rng.uniform(20.0, 60.0)), float(rng.uniform(0.0, 20.0))
    still = np.random.default_rng(int(rng.integers(2**32)))
    stand(space, player, keys, clock, still)
    *axes, face = bear(space, player, keys, clock, still)
    swing_arms(space, player, keys, clock, (axes[0], axes[1]), recoil)
    return Swing(player, clock, space, face)
