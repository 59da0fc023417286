"""Key poses: what every joint channel does at P1 to P10 in a sound swing.

The numbers are common practice of coaching (typical turns, tilts and wrist angles of
skilled players), adjusted by eye on stick figures and then until players of mixed skill
cover the shapes of real shots (see :mod:`training.evaluation.realism`).
"""

from __future__ import annotations

from enum import IntEnum, auto
from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from training.simulator.golfer import Golfer


class Channel(IntEnum):
    """Row of a channel in a table of key poses.

    Turns, tilts and other angles in degrees; places in statures; poles are directions
    in the frame of the chest (x to the lead side, y up the spine, z forward).
    """

    PELVIS_X = 0
    PELVIS_Z = auto()
    PELVIS_TURN = auto()
    PELVIS_BEND = auto()
    PELVIS_SIDE = auto()
    LEAD_KNEE_FLEX = auto()
    TRAIL_KNEE_FLEX = auto()
    LEAD_KNEE_OUT = auto()
    TRAIL_KNEE_OUT = auto()
    LEAD_FOOT_SPIN = auto()
    TRAIL_FOOT_SPIN = auto()
    TRAIL_HEEL_LIFT = auto()
    CHEST_TURN = auto()
    CHEST_BEND = auto()
    CHEST_SIDE = auto()
    HEAD_TURN = auto()
    HEAD_PITCH = auto()
    ARM_CLOCK = auto()
    ARM_PLANE = auto()
    ARM_HEADING = auto()
    ARM_REACH = auto()
    LEAD_POLE_X = auto()
    LEAD_POLE_Y = auto()
    LEAD_POLE_Z = auto()
    TRAIL_POLE_X = auto()
    TRAIL_POLE_Y = auto()
    TRAIL_POLE_Z = auto()
    WRIST_SET = auto()
    SHAFT_PLANE = auto()
    SHAFT_HEADING = auto()


N_CHANNELS: Final[int] = len(Channel)
SOLVED: Final[float] = 0.0
"""Placeholder for what :mod:`training.simulator.swing.contact` solves at P1 and P7."""


def key_poses(golfer: Golfer, length: float) -> FloatArray:
    """Table of key poses, shape (N_CHANNELS, 10), columns P1 to P10.

    ``length`` is 1 for a full swing, 0.75 for three quarters, 0.5 for a half swing and
    0.25 for a chip; above 1 the swing is overlong. Where the club and hands are at P1
    and P7 is left to :mod:`training.simulator.swing.contact`.
    """
    table = np.zeros((N_CHANNELS, 10))
    _set_pelvis(table, golfer, length)
    _set_legs(table, golfer, length)
    _set_trunk_and_head(table, golfer, length)
    _set_arms(table, golfer, length)
    _set_club(table, golfer, length)
    return table


def spread(
    at: tuple[float, float, float, float],
    back: tuple[float, float],
    down: tuple[float, float],
    through: tuple[float, float],
) -> FloatArray:
    """Ten values from those at address, top, impact and finish.

    ``back`` says how far the way from address to top has been covered at P2 and P3,
    ``down`` how much of the way from impact up to the top is left at P5 and P6, and
    ``through`` how far the way from impact to finish has been covered at P8 and P9.
    """
    address, top, impact, finish = at
    p2, p3 = (address + f * (top - address) for f in back)
    p5, p6 = (impact + f * (top - impact) for f in down)
    p8, p9 = (impact + f * (finish - impact) for f in through)
    return np.array([address, p2, p3, top, p5, p6, impact, p8, p9, finish])


def by_length(length: float, chip: float, half: float, three_quarter: float, full: float) -> float:
    """Value for a swing length, going on beyond a full swing as from three quarters to full."""
    known = np.interp(length, [0.25, 0.5, 0.75, 1.0], [chip, half, three_quarter, full])
    return float(known + max(0.0, length - 1.0) * (full - three_quarter) / 0.25)


def _lower_body(golfer: Golfer, length: float) -> tuple[float, float]:
    """How far the lower body goes back and through, 1 in a full swing."""
    held = min(length, 1.0)
    through = by_length(held, 0.35, 0.65, 0.9, 1.0) * golfer.style.finish
    return by_length(held, 0.35, 0.75, 0.92, 1.0), through


def _set_pelvis(table: FloatArray, golfer: Golfer, length: float) -> None:
    style = golfer.style
    far, done = _lower_body(golfer, length)
    shift = style.shift_impact / golfer.stature
    turn = style.pelvis_open_impact * min(1.0, 0.3 + 0.7 * far)
    hinge = 0.45 * (golfer.setup.bend + style.bend)
    rows = {
        Channel.PELVIS_X: spread(
            (0.0, -0.015 * far, shift * min(1.0, 0.2 + far), 0.045 + 0.05 * done),
            (0.5, 0.9),
            (0.33, 0.1),
            (0.35, 0.65),
        ),
        Channel.PELVIS_Z: spread(
            (-0.045, -0.045, -0.038, -0.038 + 0.068 * done), (0.4, 0.7), (0.6, 0.3), (0.1, 0.45)
        ),
        Channel.PELVIS_TURN: spread(
            (0.0, -style.pelvis_turn_top * far, turn, turn + (90.0 - turn) * done),
            (0.27, 0.67),
            (0.56, 0.26),
            (0.28, 0.7),
        ),
        Channel.PELVIS_BEND: spread(
            (hinge, 0.9 * hinge, 0.6 * hinge, 0.6 * hinge * (1.0 - done)),
            (0.3, 0.7),
            (0.7, 0.35),
            (0.3, 0.7),
        ),
        Channel.PELVIS_SIDE: spread((2.0, -4.0, 5.0, 3.0), (0.3, 0.7), (0.7, 0.3), (0.0, 0.5)),
    }
    _write(table, rows)


def _set_legs(table: FloatArray, golfer: Golfer, length: float) -> None:
    style = golfer.style
    far, done = _lower_body(golfer, length)
    flex = style.knee_flex
    rows = {
        Channel.LEAD_KNEE_FLEX: spread(
            (flex, flex + style.lead_knee_top * far, 3.0, 5.0), (0.4, 0.7), (1.0, 0.8), (0.6, 0.9)
        ),
        Channel.TRAIL_KNEE_FLEX: spread(
            (flex, flex + style.trail_knee_top * far, 14.0, 25.0),
            (0.3, 0.7),
            (0.5, 0.1),
            (0.1, 0.5),
        ),
        Channel.LEAD_KNEE_OUT: spread(
            (10.0, 10.0 - 35.0 * far, 20.0, 20.0 + 30.0 * done), (0.3, 0.7), (0.5, 0.2), (0.3, 0.7)
        ),
        Channel.TRAIL_KNEE_OUT: spread(
            (-8.0, -8.0 - 7.0 * far, 45.0, 45.0 + 35.0 * done),
            (0.3, 0.7),
            (0.55, 0.15),
            (0.35, 0.65),
        ),
        Channel.LEAD_FOOT_SPIN: spread(
            (0.0, 0.0, 0.0, 15.0 * done), (0.0, 0.0), (0.0, 0.0), (0.1, 0.4)
        ),
        Channel.TRAIL_FOOT_SPIN: spread(
            (0.0, 0.0, 3.0, 3.0 + 37.0 * done), (0.0, 0.0), (0.0, 0.1), (0.2, 0.6)
        ),
        Channel.TRAIL_HEEL_LIFT: spread(
            (0.0, 0.0, 5.0, 5.0 + 63.0 * done), (0.0, 0.0), (1.0, 0.9), (0.15, 0.6)
        ),
    }
    _write(table, rows)


def _set_trunk_and_head(table: FloatArray, golfer: Golfer, length: float) -> None:
    style, held = golfer.style, min(length, 1.0)
    top = by_length(length, 30.0, 64.0, 82.0, 90.0) * style.chest_turn_top / 90.0
    end = by_length(held, 45.0, 70.0, 86.0, 95.0)
    open_ = style.chest_open_impact * by_length(held, 0.5, 0.8, 0.95, 1.0)
    bend = golfer.setup.bend + style.bend
    tilt = style.side_tilt
    done = by_length(held, 0.2, 0.5, 0.8, 1.0) * style.finish
    impact_tilt = tilt + (style.side_tilt_impact - tilt) * by_length(held, 0.4, 0.7, 0.9, 1.0)
    rows = {
        Channel.CHEST_TURN: spread(
            (3.0, -top, open_, open_ + (end - open_) * style.finish),
            (0.31, 0.74),
            (0.69, 0.28),
            (0.28, 0.78),
        ),
        Channel.CHEST_BEND: spread(
            (bend, bend - 2.0, bend, bend - (bend - style.bend_finish - style.bend) * done),
            (0.3, 0.7),
            (0.5, 0.3),
            (0.0, 0.5),
        ),
        Channel.CHEST_SIDE: spread(
            (tilt, tilt - 4.0, impact_tilt, 7.0), (0.4, 0.8), (1.0, 0.45), (-0.1, 0.5)
        ),
        Channel.HEAD_TURN: spread(
            (0.0, -style.head_turn_top, -4.0, -4.0 + 89.0 * done),
            (0.2, 0.6),
            (0.8, 0.4),
            (0.08, 0.45),
        ),
        Channel.HEAD_PITCH: spread(
            (48.0, 48.0, 50.0, 50.0 - 45.0 * done), (0.3, 0.7), (0.6, 0.3), (0.02, 0.4)
        ),
    }
    _write(table, rows)


def _set_arms(table: FloatArray, golfer: Golfer, length: float) -> None:
    style, held = golfer.style, min(length, 1.0)
    top = -by_length(length, 45.0, 95.0, 121.0, 143.0) * style.arm_swing_top / 143.0
    end = by_length(held, 42.0, 98.0, 138.0, 166.0) * (0.5 + 0.5 * style.finish)
    folded = by_length(held, 1.02, 0.97, 0.82, 0.58)
    # The more upright the trunk turns, the flatter the arms go round it.
    plane = style.arm_plane_top + 0.7 * (golfer.setup.bend + style.bend - 33.0)
    table[Channel.ARM_CLOCK] = spread(
        (-13.0, top, -5.0, end), (0.20, 0.60), (0.62, 0.28), (0.25, 0.49)
    )
    planes = [71.0, plane + 5.0, plane, plane + 2.0, 66.0]
    table[Channel.ARM_PLANE] = [SOLVED, *planes, SOLVED, 66.0, 64.0, 78.0]
    down, reach = style.arm_heading_down, style.lead_arm_reach
    p2 = 1.04 + 0.7 * (reach - 1.03)
    table[Channel.ARM_HEADING] = [0.0, 9.0, 9.0, 6.0, down, 3.0, 0.0, 12.0, 6.0, 10.0]
    table[Channel.ARM_REACH] = [SOLVED, p2, reach, reach, reach, 1.06, SOLVED, 1.05, 1.02, folded]
    poles = {
        Channel.LEAD_POLE_X: [0.5, 0.4, 0.2, 0.2, 0.2, 0.3, 0.5, 0.5, 0.4, 0.4],
        Channel.LEAD_POLE_Y: [-0.7, -0.8, -1.0, -1.0, -1.0, -0.9, -0.7, -0.7, -0.8, -1.0],
        Channel.LEAD_POLE_Z: [-0.5, -0.4, -0.1, 0.0, 0.0, -0.2, -0.5, -0.5, -0.3, 0.3],
        Channel.TRAIL_POLE_X: [-0.5, -0.4, -0.1, 0.3, 0.2, -0.2, -0.4, -0.4, -0.3, -0.2],
        Channel.TRAIL_POLE_Y: [-0.6, -0.7, -0.9, -1.0, -1.0, -0.8, -0.7, -0.7, -0.8, -1.0],
        Channel.TRAIL_POLE_Z: [-0.6, -0.6, -0.4, -0.3, 0.1, -0.3, -0.6, -0.5, 0.0, 0.4],
    }
    _write(table, {channel: np.array(row) for channel, row in poles.items()})
    table[Channel.TRAIL_POLE_X, 4:6] -= style.trail_elbow_out


def _set_club(table: FloatArray, golfer: Golfer, length: float) -> None:
    style, held = golfer.style, min(length, 1.0)
    top = -by_length(length, 18.0, 76.0, 94.0, 102.0) * style.wrist_set_top / 102.0
    end = by_length(held, 15.0, 70.0, 105.0, 128.0)
    table[Channel.WRIST_SET] = spread(
        (13.0, top, 1.0, end), (0.52, 0.86), (0.98, 0.62), (0.29, 0.58)
    )
    planes = np.array([SOLVED, 60.0, 60.0, 45.0, 20.0, 43.0, SOLVED, 52.0, 56.0, 60.0])
    table[Channel.SHAFT_PLANE] = planes + style.shaft_plane
    table[Channel.SHAFT_HEADING] = [0.0, 0.0, 0.0, 0.0, 4.0, 4.0, 0.0, -4.0, -10.0, -20.0]


def _write(table: FloatArray, rows: dict[Channel, FloatArray]) -> None:
    for channel, row in rows.items():
        table[channel] = row
