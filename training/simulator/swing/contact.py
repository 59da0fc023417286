"""Setting the club behind the ball at address and bringing it back there at impact."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from training.simulator.body.clubs import HAND_FROM_BUTT
from training.simulator.body.rotations import clock_of
from training.simulator.golfer import Golfer
from training.simulator.swing.keys import Channel
from training.simulator.swing.posture import Trunk, feet_of, hand_direction, hold_of, trunk_of

_CLUBHEAD_HEIGHT: Final[float] = 0.02
"""Height of the clubhead's middle above the ground, metres; common practice."""
_ADDRESS_REACH: Final[float] = 1.02
_IMPACT_REACH: Final[float] = 1.07
"""From the shoulder, as it is before it follows the hand, to the wrist, arm lengths; judgement."""
_STEEPEST_SHAFT: Final[float] = 0.97
"""Height of the hands above the ball at impact, lengths of club below them, at most; judgement."""
_ROUNDS: Final[int] = 6
"""Steps in which arm and shaft are solved."""
P1: Final[int] = 0
P7: Final[int] = 6


def set_contact(table: FloatArray, golfer: Golfer, rise: float, back: float) -> None:
    """Fill in, in place, arm and shaft at P1 and P7 of a table of key poses.

    At address the arms hang out by the club's usual angle and the shaft reaches the
    ground behind the ball. At impact the clubhead is back there with the hands ahead
    and raised as the style says, but ``rise`` metres higher and ``back`` metres farther
    back; the trunk bends less or more so that the lead arm gets there nearly straight.
    """
    style = golfer.style
    ball_x = (golfer.setup.ball + style.ball) * golfer.stature
    hand, ball = _set_address(table, golfer, ball_x)
    hand_x = ball_x + style.hands_ahead_impact + golfer.setup.extra_lead - back
    _set_impact(table, golfer, ball, hand_x, hand[1] + style.hands_rise_impact + rise)


def _set_address(table: FloatArray, golfer: Golfer, ball_x: float) -> tuple[FloatArray, FloatArray]:
    """Let the arms hang, then give way until both hands are on the grip; hand and ball."""
    body = golfer.body
    trunk = _trunk(table, golfer, P1)
    shoulder = trunk.lead_shoulder[0]
    hang = np.radians(golfer.setup.hang + golfer.style.hang)
    along = (ball_x + golfer.setup.lean - shoulder[0]) / (body.arm + body.hand)
    across = np.sqrt(1.0 - along**2)
    arm = np.array([along, -across * np.cos(hang), across * np.sin(hang)])
    wrist, shaft = shoulder + _ADDRESS_REACH * body.arm * arm, arm
    for _ in range(_ROUNDS):
        arm = wrist - shoulder
        reach = float(np.linalg.norm(arm))
        hand = wrist + body.hand * hand_direction(arm / reach, shaft)
        shaft = _shaft_to_ground(hand, ball_x, golfer)
        _write(table, P1, arm / reach, reach / body.arm, shaft)
        hold = hold_of(table[:, [P1]], golfer, trunk)
        wrist, hand = hold.lead_wrist[0], hold.lead_hand[0]
    return hand, hand + _below_hand(golfer) * hold.shaft[0]


def _set_impact(
    table: FloatArray, golfer: Golfer, ball: FloatArray, hand_x: float, hand_y: float
) -> None:
    """Bend the trunk, by secant steps, until the lead arm reaches the hands nearly straight."""
    body, start = golfer.body, table[Channel.CHEST_BEND, P7]
    bends = [start, start - 3.0]
    hand, shaft = _hand_at_impact(golfer, ball, hand_x, hand_y)

    def solve(bend: float) -> float:
        table[Channel.CHEST_BEND, P7] = bend
        shoulder = _trunk(table, golfer, P7).lead_shoulder[0]
        wrist = hand
        for _ in range(3):
            arm = (wrist - shoulder) / np.linalg.norm(wrist - shoulder)
            wrist = hand - body.hand * hand_direction(arm, shaft)
        reach = float(np.linalg.norm(wrist - shoulder)) / body.arm
        _write(table, P7, (wrist - shoulder) / (reach * body.arm), reach, shaft)
        return reach - _IMPACT_REACH

    misses = [solve(bend) for bend in bends]
    for _ in range(_ROUNDS):
        slope = (misses[-1] - misses[-2]) / (bends[-1] - bends[-2])
        bends.append(float(np.clip(bends[-1] - misses[-1] / slope, start - 20.0, start + 12.0)))
        misses.append(solve(bends[-1]))
        if abs(misses[-1]) < 1e-4 or bends[-1] == bends[-2]:
            break


def _hand_at_impact(
    golfer: Golfer, ball: FloatArray, x: float, y: float
) -> tuple[FloatArray, FloatArray]:
    length = _below_hand(golfer)
    y = min(y, ball[1] + _STEEPEST_SHAFT * length)
    inward = np.sqrt(length**2 - (x - ball[0]) ** 2 - (y - ball[1]) ** 2)
    hand = np.array([x, y, ball[2] - inward])
    return hand, (ball - hand) / length


def _shaft_to_ground(hand: FloatArray, ball_x: float, golfer: Golfer) -> FloatArray:
    length = _below_hand(golfer)
    x, y = (ball_x - hand[0]) / length, (_CLUBHEAD_HEIGHT - hand[1]) / length
    return np.array([x, y, np.sqrt(1.0 - x**2 - y**2)])


def _below_hand(golfer: Golfer) -> float:
    return golfer.club_length - HAND_FROM_BUTT


def _trunk(table: FloatArray, golfer: Golfer, column: int) -> Trunk:
    channels = table[:, [column]]
    return trunk_of(channels, golfer, feet_of(channels, golfer))


def _write(
    table: FloatArray, column: int, arm: FloatArray, reach: float, shaft: FloatArray
) -> None:
    arm_clock, arm_plane = clock_of(arm)
    shaft_clock, shaft_plane = clock_of(shaft)
    table[Channel.ARM_CLOCK, column] = arm_clock
    table[Channel.ARM_PLANE, column] = arm_plane
    table[Channel.ARM_REACH, column] = reach
    table[Channel.WRIST_SET, column] = shaft_clock - arm_clock
    table[Channel.SHAFT_PLANE, column] = shaft_plane
