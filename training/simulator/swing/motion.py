"""A swing as a motion: joints in space at any moment, and the true positions P1 to P10."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np

from service.analysis.pose.points import swap_sides
from service.analysis.types import Club, FloatArray, Handedness, Intent
from training.simulator.amounts import FaultAmounts
from training.simulator.golfer import Golfer
from training.simulator.swing.contact import set_contact
from training.simulator.swing.faults import HANDLE_RISE, HANDS_BACK, put_in_faults
from training.simulator.swing.keys import key_poses
from training.simulator.swing.posture import joints_of
from training.simulator.swing.tempo import Tempo, usual_tempo
from training.simulator.swing.timeline import Timeline
from training.simulator.true_positions import position_times

_PRACTICE_SLOWER: Final[float] = 1.25
"""How many times longer a practice swing takes; judgement."""


@dataclass(frozen=True)
class SwingMotion:
    """One clip of a player swinging, possibly with practice swings before the real one.

    ``swing_start`` is when the last swing's key poses start, seconds.
    """

    golfer: Golfer
    amounts: FaultAmounts
    tempo: Tempo
    intent: Intent
    length: float
    swing_start: float
    timeline: Timeline = field(repr=False)

    @property
    def duration(self) -> float:
        """Length of the clip in seconds."""
        return self.timeline.end

    @property
    def handedness(self) -> Handedness:
        """Which way the player plays."""
        return self.golfer.handedness

    @property
    def club(self) -> Club:
        """The club in the player's hands."""
        return self.golfer.club

    def joints(self, times: FloatArray) -> FloatArray:
        """Joints and club in space.

        Parameters
        ----------
        times : array of shape (n_times,)
            Seconds from the start of the clip; beyond it the player stands still.

        Returns
        -------
        array of shape (n_times, N_POINTS, 3)
            Metres in the world frame (see :mod:`training.simulator`), in the order of
            :data:`service.analysis.pose.points.ANATOMICAL`. A left-hander's x points away
            from the target, so the target is always where the lead side is.
        """
        return to_anatomical(self.canonical_joints(times), self.handedness)

    def canonical_joints(self, times: FloatArray) -> FloatArray:
        """The same as a right-hander's, lead and trail instead of left and right."""
        return joints_of(self.timeline.channels(np.asarray(times, dtype=float)), self.golfer)

    @cached_property
    def position_times(self) -> FloatArray:
        """True times of P1 to P10 of the last swing, shape (10,), seconds.

        Found on the motion itself by the definitions of
        :func:`training.simulator.true_positions.position_times`; NaN for a position that the
        swing does not reach.
        """
        return position_times(
            self.canonical_joints, self.swing_start, self.duration, self.golfer.stature
        )


def to_anatomical(joints: FloatArray, handedness: Handedness) -> FloatArray:
    """Joints of a right-hander as they are, or of the left-hander who is the mirror image.

    Takes and returns arrays of shape (n_times, N_POINTS, 3).
    """
    if handedness is Handedness.RIGHT:
        return joints
    mirrored: FloatArray = swap_sides(joints) * np.array([-1.0, 1.0, 1.0])
    return mirrored


def swing_motion(
    golfer: Golfer,
    amounts: FaultAmounts | None = None,
    tempo: Tempo | None = None,
    intent: Intent = Intent.FULL_SPEED,
    length: float = 1.0,
    pause_at_top: float = 0.0,
    waggles: int = 0,
    practice_swings: int = 0,
    lead_in: float = 0.6,
    tail: float = 0.6,
    *,
    forward_press: bool = False,
) -> SwingMotion:
    """Motion of a golfer swinging with some faults.

    Parameters
    ----------
    amounts : FaultAmounts, optional
        None for a clean swing.
    tempo : Tempo, optional
        As meant before ``hurried_transition`` acts on it; the intent's usual one if None.
    length : float
        1 for a full swing, 0.75, 0.5 and 0.25 for three quarters, half and a chip; up
        to 1.2 for an overlong one.
    pause_at_top, lead_in, tail : float
        Seconds of standing still at the top, before the first motion and after the finish.
    waggles, practice_swings : int
        How many of each come before the swing.

    Raises
    ------
    ValueError
        If ``length`` is outside 0.2 to 1.2 or a duration or count is negative.
    """
    if not 0.2 <= length <= 1.2:
        raise ValueError(f"length must be within 0.2 to 1.2, got {length}")
    if min(pause_at_top, waggles, practice_swings, lead_in, tail) < 0:
        raise ValueError("durations and counts must not be negative")
    amounts = amounts or FaultAmounts()
    tempo = (tempo or usual_tempo(intent)).hurried(amounts.hurried_transition)
    table = swing_table(golfer, amounts, length)

    timeline = Timeline()
    timeline.begin(table[:, 0])
    timeline.hold(lead_in)
    for _ in range(practice_swings):
        timeline.swing(table, tempo.slowed(_PRACTICE_SLOWER), 0.0)
        timeline.step_back(table[:, 0])
    timeline.waggle(waggles)
    if forward_press:
        timeline.press()
    start = timeline.end
    timeline.swing(table, tempo, pause_at_top)
    timeline.hold(tail)
    return SwingMotion(golfer, amounts, tempo, intent, length, start, timeline)


def swing_table(golfer: Golfer, amounts: FaultAmounts, length: float) -> FloatArray:
    """Key poses with faults put in and the club on the ball, shape (N_CHANNELS, 10)."""
    table = key_poses(golfer, length)
    put_in_faults(table, amounts)
    set_contact(
        table,
        golfer,
        rise=HANDLE_RISE * golfer.stature * amounts.handle_rise,
        back=HANDS_BACK * golfer.stature * amounts.lead_wrist_cup,
    )
    return table
