"""A swing of a driven double pendulum whose joints, true positions and duration are known."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np

from service.analysis.types import Club, FloatArray, Handedness, Intent
from training.simulator.driven import faults
from training.simulator.driven.courses.plan import Plan, plan
from training.simulator.driven.courses.strokes import Clock
from training.simulator.driven.figure.contact import joints_of
from training.simulator.driven.manner import AfterFinish, Manner, Waggles, random_manner
from training.simulator.driven.player import Player, random_player
from training.simulator.driven.shorter import shortened
from training.simulator.swing.amounts import FaultAmounts
from training.simulator.swing.motion import to_anatomical
from training.simulator.swing.positions import position_times

_CALMER: Final[float] = 0.66
"""Factor on the tempo of a rehearsal, whose backswing is not so much slower than its downswing."""
_STILL: Final[float] = 0.05
"""Seconds before the takeaway from which the one swing is looked at."""
_AFTER_WAGGLES: Final[float] = 0.12
"""Seconds of stillness between them and the takeaway."""


@dataclass(frozen=True)
class DrivenSwing:
    """One clip of a player whose arm and club are a driven pendulum; times in seconds."""

    golfer: Player
    amounts: FaultAmounts
    intent: Intent
    swing_start: float
    duration: float
    plan: Plan = field(repr=False)

    @property
    def handedness(self) -> Handedness:
        """Which way the player plays."""
        return self.golfer.handedness

    @property
    def club(self) -> Club:
        """The club in the player's hands."""
        return self.golfer.club

    def joints(self, times: FloatArray) -> FloatArray:
        """Joints of shape (n_times, N_POINTS, 3), metres, in anatomical order; a left-hander's
        world is the mirror image."""
        return to_anatomical(self.canonical_joints(times), self.handedness)

    def canonical_joints(self, times: FloatArray) -> FloatArray:
        """The same as a right-hander's, lead and trail instead of left and right."""
        held = np.clip(np.asarray(times, dtype=float), 0.0, self.duration)
        return joints_of(self.plan.values(held), self.plan.player) * self.golfer.stature

    @cached_property
    def position_times(self) -> FloatArray:
        """True times of P1 to P10, shape (10,), by the same words as for every other swing
        (:func:`training.simulator.swing.positions.position_times`); NaN where not reached."""
        return position_times(
            self.canonical_joints, self.swing_start, self.duration, self.golfer.stature
        )


def driven_swing(
    player: Player,
    amounts: FaultAmounts | None = None,
    intent: Intent = Intent.FULL_SPEED,
    manner: Manner | None = None,
) -> DrivenSwing:
    """Swing of a player with some faults, made in some manner."""
    amounts, manner = amounts or FaultAmounts(), manner or Manner()
    shown = faults.styled(player, amounts)
    clock = _clock(shown, intent, manner)
    waggles = Waggles(
        manner.waggles, 0.6 if intent is Intent.REHEARSAL else 0.45, manner.waggle,
        clock.start - _AFTER_WAGGLES,
    )  # fmt: skip
    after = AfterFinish(clock.finish + manner.holds, manner.relaxes, manner.drops, manner.folds)
    ends = after.begins + after.takes if manner.drops else clock.finish
    made = plan(shown, clock, shown["hands_rise"], manner.creeps, waggles, after)
    return DrivenSwing(
        player, amounts, intent, clock.start - _STILL, float(ends + manner.tail), made
    )


def _clock(shown: Player, intent: Intent, manner: Manner) -> Clock:
    down = shown["downswing"] * manner.slower
    tempo = shown["tempo"] * (_CALMER if intent is Intent.REHEARSAL else 1.0)
    start = manner.lead_in + 0.6 * manner.waggles
    top = start + tempo * down
    leaves = top + manner.pause
    impact = leaves + down
    return Clock(start, top, leaves, impact, impact + shown["through"] * manner.slower)


def random_driven_swing(
    rng: np.random.Generator,
    player: Player | None = None,
    amounts: FaultAmounts | None = None,
    intent: Intent = Intent.FULL_SPEED,
    length: float = 1.0,
) -> DrivenSwing:
    """Swing of a given or drawn player; waiting, waggles, a pause, the pace of a rehearsal and what
    follows the finish vary.

    ``length`` is 1 for a full swing and 0.5 for a half; longer ones are left to the faults.
    """
    shorter = shortened(player or random_player(rng), length)
    return driven_swing(shorter, amounts, intent, random_manner(rng, intent))
