"""Key positions: where the parts of the body and the club are at P1 to P10.

All places are in statures in the world frame of :mod:`training.simulator` (x to the target, y up,
z toward the ball, origin between the ankles). Directions of the arm are taken from an anchor on
the line of the shoulders: the lead shoulder up to impact, the trail one at P9, halfway after.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from training.simulator.keyed.arms import GRIP_HOLD, knuckles, within_reach
from training.simulator.keyed.feet import beyond_the_legs, feet_of
from training.simulator.keyed.player import CLUBS, Player
from training.simulator.keyed.vectors import across, turned, unit

P1, P2, P3, P4, P5, P6, P7, P8, P9, P10 = range(10)
_HEAD_HEIGHT: Final[float] = 0.012
"""Of the clubhead's middle above the ground at address, statures."""
_ROUNDS: Final[int] = 8
"""Steps in which hands and club are solved for where the clubhead is."""
_LEAST_OVER_LEVEL: Final = np.radians(8.0)
"""By how much the arm goes past level at the top where it is level at P3 and P5; in a shorter swing
these lie as far below the top."""


@dataclass
class Keys:
    """Key positions of one swing; first axis P1 to P10.

    Attributes
    ----------
    pelvis, neck : shape (10, 3)
        Middle of the hips, base of the neck.
    pelvis_up : shape (10, 3)
        Direction of the lower spine.
    pelvis_turn, chest_turn : shape (10,)
        About the lower and the upper spine, positive toward the target.
    anchor : shape (10,)
        0 on the lead shoulder, 1 on the trail one.
    arm : shape (10, 3)
        From the anchor to the lead wrist.
    shaft, plane : shape (10, 3)
        Directions of the shaft and of the normal of the plane it turns in.
    poles : shape (10, 4, 3)
        Toward where lead knee, trail knee (in space), lead elbow and trail elbow (in the frame of
        the chest: lead side, up, forward) point.
    feet : shape (10, 5)
        Lead heel lift and spin, trail heel lift, spin and bank, degrees.
    head : shape (10, 2)
        Turn toward the target and pitch, degrees.
    """

    pelvis: FloatArray
    neck: FloatArray
    pelvis_up: FloatArray
    pelvis_turn: FloatArray
    chest_turn: FloatArray
    anchor: FloatArray
    arm: FloatArray
    shaft: FloatArray
    plane: FloatArray
    poles: FloatArray
    feet: FloatArray
    head: FloatArray


def trunk_up(forward: float, side: float) -> FloatArray:
    """Direction up a trunk bent forward and leaning away from the target, degrees, shape (3,)."""
    f, s = np.radians(forward), np.radians(side)
    return np.array([-np.sin(s), np.cos(s) * np.cos(f), np.cos(s) * np.sin(f)])


def side_axis(up: FloatArray, turn: FloatArray | float) -> FloatArray:
    """Unit vectors to the lead side of bodies with axes ``up``, turned about them, (..., 3)."""
    square = across(np.broadcast_to([1.0, 0.0, 0.0], up.shape), up)
    return turned(square, up, turn)


def lay_body(player: Player) -> Keys:
    """Key positions of a sound swing, but for the hands and the club."""
    bend = CLUBS[player.club].bend + player["bend"]
    pelvis, pelvis_up, pelvis_turn = _pelvis(player, bend)
    feet = _feet(player)
    lower_to_legs(pelvis, pelvis_up, pelvis_turn, feet, player)
    return Keys(
        pelvis=pelvis,
        neck=_neck(player, bend, pelvis),
        pelvis_up=pelvis_up,
        pelvis_turn=pelvis_turn,
        chest_turn=_chest_turn(player),
        anchor=np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.5, 1.0, 0.5]),
        arm=np.zeros((10, 3)),
        shaft=np.zeros((10, 3)),
        plane=np.zeros((10, 3)),
        poles=_poles(),
        feet=feet,
        head=_head(player),
    )


def _pelvis(p: Player, bend: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Where the middle of the hips is, the direction up from it, and its turn."""
    half = 0.5 * (CLUBS[p.club].stance + p["stance"])
    leg = _leg_at(p, p["knee_flex"])
    height = p["ankle_height"] + np.sqrt(leg**2 - (half - 0.5 * p["hip_width"]) ** 2 - 0.0009)
    sway, shift = p["sway"], p["shift"]
    x = np.array([0.0, 0.5 * sway, sway, sway + 0.008, 0.6 * shift, 0.9 * shift, shift,
                  1.12 * shift, 1.4 * shift + 0.01, 1.6 * shift + 0.02])  # fmt: skip
    rise = np.array([0.0, 0.0, 0.0, -0.002, p["squat"], 0.6 * p["squat"], 0.004, 0.012, 0.02, 0.02])
    forward = np.array([0.0, -0.003, -0.004, -0.004, -0.004, 0.0, 0.004, 0.010, 0.025, 0.050])
    place = np.stack([x, height + rise, p["balance"] + forward], axis=-1)
    lower = 0.55 * bend
    tilts = np.array([lower] * 7 + [0.7 * lower, 0.4 * lower, 0.1 * p["bend_end"]])
    sides = np.array([0.0, -2.0, -4.0, -5.0, 0.0, 2.0, 4.0, 4.0, 3.0, 2.0])
    up = np.stack([trunk_up(b, s) for b, s in zip(tilts, sides, strict=True)])
    top, impact, end = -p["pelvis_turn_top"], p["pelvis_open"], p["pelvis_end"]
    turn = np.array([0.0, 0.32 * top, 0.74 * top, top, 0.25 * top + 0.1 * impact, 0.62 * impact,
                     impact, impact + 0.25 * (end - impact), impact + 0.62 * (end - impact),
                     end])  # fmt: skip
    return place, up, turn


def _neck(p: Player, bend: float, pelvis: FloatArray) -> FloatArray:
    """Where the base of the neck is above the pelvis."""
    bends = bend + np.array([0.0, -0.5, -1.0, -2.0, 0.0, 1.0, -1.0, -3.0, 0.0, 0.0])
    bends[P9], bends[P10] = 0.45 * bend + 0.55 * p["bend_end"], p["bend_end"]
    neck = pelvis + p["spine"] * np.stack([trunk_up(b, p["side_tilt"]) for b in bends])
    back, impact = p["neck_shift_top"], p["neck_back_impact"]
    neck[:, 0] = neck[P1, 0] + np.array(
        [0.0, 0.4 * back, 0.8 * back, back, 0.4 * back, 0.0, impact, impact + 0.012, 0.025,
         0.055 + p["shift"]]
    )  # fmt: skip
    return neck


def _chest_turn(p: Player) -> FloatArray:
    top, impact, p9 = -p["chest_turn_top"], p["chest_open"], p["chest_p9"]
    return np.array([1.0, 0.36 * top, 0.74 * top, top, 0.60 * top, 0.14 * top, impact,
                     impact + 0.52 * (p9 - impact), p9, p["chest_end"]])  # fmt: skip


def lower_to_legs(
    pelvis: FloatArray, up: FloatArray, turn: FloatArray, feet: FloatArray, player: Player
) -> None:
    """Lower, in place, the key positions of the hips that the legs don't reach."""
    ankles = tuple(foot[:, 0] for foot in feet_of(feet, player))
    pelvis[:, 1] -= beyond_the_legs(pelvis, side_axis(up, turn), (ankles[0], ankles[1]), player)


def reach_for_the_club(keys: Keys, player: Player, rise: float, back: float) -> None:
    """Put in, in place, where the hands and the club are.

    ``rise`` and ``back`` are how much higher and less far ahead than the style says the hands
    come through impact, statures.
    """
    hand, ball = _address(keys, player)
    _backswing(keys, player)
    _impact(keys, player, hand, ball, rise, back)
    _through(keys, player)


def shoulder(keys: Keys, player: Player, k: int, side: float) -> FloatArray:
    """Lead (side 1) or trail (-1) shoulder at one key, shape (3,)."""
    up = unit(keys.neck[k] - keys.pelvis[k])
    axis = side_axis(up, keys.chest_turn[k])
    return np.asarray(keys.neck[k] - 0.012 * up + 0.5 * side * player["shoulder_width"] * axis)


def _address(keys: Keys, player: Player) -> tuple[FloatArray, FloatArray]:
    setup = CLUBS[player.club]
    lead = shoulder(keys, player, P1, 1.0)
    reach = player["address_reach"] * player.arm
    dx = setup.ball + setup.lean + player["lean"] - lead[0]
    down = np.sqrt(reach**2 - dx**2)
    hang = np.radians(player["hang"])
    arm = np.array([dx, -down * np.cos(hang), down * np.sin(hang)])
    below = player.club_length - GRIP_HOLD
    shaft = unit(np.array([0.0, -0.8, 0.6]))
    hand = lead
    trail = shoulder(keys, player, P1, -1.0)
    for _ in range(_ROUNDS):
        arm = within_reach(lead, trail, lead + arm, shaft, player) - lead
        hand = knuckles(lead + arm, unit(arm), shaft, player)
        x, y = (setup.ball - hand[0]) / below, (_HEAD_HEIGHT - hand[1]) / below
        shaft = np.array([x, y, np.sqrt(max(1.0 - x**2 - y**2, 0.05))])
        shaft = unit(shaft)
    keys.arm[P1], keys.shaft[P1] = arm, shaft
    keys.plane[P1] = _normal(np.degrees(np.arctan2(-shaft[1], shaft[2])))
    return hand, hand + below * shaft


def _backswing(keys: Keys, player: Player) -> None:
    p = player
    length = p.arm * np.array([0.99, 0.985, p["lead_reach_top"], p["lead_reach_top"], 0.985])
    in_, out = np.radians(p["arm_in_p3"]), np.radians(p["arm_in_p5"])
    up = unit(keys.neck[P4] - keys.pelvis[P4])
    line = -side_axis(up, keys.chest_turn[P4])
    slope = np.degrees(np.arctan2(line[1], -line[2])) + p["above_shoulders"]
    swing = np.radians(p["arm_swing_top"] - 90.0)
    up_to = np.tan(min(0.0, swing - _LEAST_OVER_LEVEL))
    arms = np.array(
        [
            [-0.74, -0.66, 0.14 + p["hands_in_p2"]],
            [-np.cos(in_), up_to, -np.sin(in_)],
            [-np.cos(swing), np.sin(swing), -np.sin(swing) / np.tan(np.radians(slope))],
            [-np.cos(out), up_to, -np.sin(out)],
            [-0.48, -0.86, 0.10 + 0.3 * p["hands_in_p2"]],
        ]
    )
    keys.arm[P2 : P6 + 1] = length[:, None] * unit(arms)
    for k, hinge, plane in (
        (P3, p["hinge_p3"], p["plane_p3"]),
        (P4, p["hinge_top"], p["plane_top"]),
        (P5, p["hinge_p5"], p["plane_p5"]),
    ):
        hinge_from(keys, k, hinge, plane)
    for k, aside in ((P2, p["shaft_in_p2"]), (P6, p["shaft_out_p6"])):
        angle = np.radians(aside)
        keys.shaft[k] = [-np.cos(angle), 0.0, np.sin(angle)]
        keys.plane[k] = _normal(55.0)


def hinge_from(keys: Keys, k: int, hinge: float, plane: float) -> None:
    """Set the shaft at one key by the wrist's hinge in a plane of that inclination, degrees."""
    arm = unit(keys.arm[k])
    normal = across(_normal(plane), arm)
    keys.shaft[k] = turned(arm, normal, hinge)
    keys.plane[k] = _normal(plane)


def _impact(
    keys: Keys, player: Player, hand: FloatArray, ball: FloatArray, rise: float, back: float
) -> None:
    p = player
    below = p.club_length - GRIP_HOLD
    x = ball[0] + p["hands_ahead"] + 0.4 * CLUBS[p.club].lean - back
    y = hand[1] + p["hands_rise"] + rise
    # A handle too high for the club lifts the head off the ground.
    ball = ball + np.array([0.0, max(0.0, y - 0.96 * below - ball[1]), 0.0])
    z = ball[2] - np.sqrt(below**2 - (x - ball[0]) ** 2 - (y - ball[1]) ** 2)
    target = np.array([x, y, z])
    shaft = (ball - target) / below
    for _ in range(_ROUNDS):
        lead = shoulder(keys, p, P7, 1.0)
        arm = unit(target - lead)
        wrist = target - p["hand"] * unit(0.9 * arm + 0.7 * shaft)
        span = wrist - lead
        miss = np.linalg.norm(span) - p["impact_reach"] * p.arm
        keys.neck[P7] += miss * unit(span)
        spine = keys.neck[P7] - keys.pelvis[P7]
        # The spine keeps its length: what it lacks, the pelvis gives.
        keys.pelvis[P7] += 0.5 * (np.linalg.norm(spine) - p["spine"]) * unit(spine)
        keys.neck[P7] = keys.pelvis[P7] + p["spine"] * unit(keys.neck[P7] - keys.pelvis[P7])
    keys.arm[P7] = wrist - shoulder(keys, p, P7, 1.0)
    keys.shaft[P7] = shaft
    keys.plane[P7] = _normal(np.degrees(np.arctan2(-shaft[1], shaft[2])))


def _through(keys: Keys, player: Player) -> None:
    p = player
    keys.arm[P8] = p["through_reach"] * p.arm * unit(np.array([0.82, -0.55, 0.12]))
    keys.arm[P9] = 0.985 * p.arm * unit(np.array([0.95, 0.03, -0.12]))
    up = unit(keys.neck[P10] - keys.pelvis[P10])
    side = side_axis(up, keys.chest_turn[P10])
    forward = np.cross(side, up)
    wrap = p["finish_wrap"]
    place = np.array([0.045 + 0.035 * wrap, 0.02 + 0.10 * wrap, 0.20 - 0.13 * wrap])
    keys.arm[P10] = place[0] * side + place[1] * up + place[2] * forward
    keys.shaft[P8] = unit(np.array([1.0, 0.0, -0.08]))
    keys.plane[P8] = _normal(56.0)
    hinge_from(keys, P9, -p["hinge_p9"], 58.0)
    keys.shaft[P10] = unit(np.array([-0.5 * wrap - 0.1, 0.45 - 0.6 * wrap, -0.55]))
    keys.plane[P10] = _normal(40.0)


def _normal(inclination: float) -> FloatArray:
    """Normal of a plane through the target line, inclined to the ground by an angle, about which
    the backswing turns."""
    a = np.radians(inclination)
    return np.array([0.0, -np.cos(a), -np.sin(a)])


def _leg_at(player: Player, flex: float) -> float:
    thigh, shank = player["thigh"], player["shank"]
    return float(np.sqrt(thigh**2 + shank**2 + 2 * thigh * shank * np.cos(np.radians(flex))))


def _poles() -> FloatArray:
    lead_knee = [[0.15, 0, 1], [0.0, 0, 1], [-0.3, 0, 1], [-0.5, 0, 1], [0.15, 0, 1],
                 [0.35, 0, 1], [0.4, 0, 1], [0.5, 0, 1], [0.7, 0, 1], [0.9, 0, 0.8]]  # fmt: skip
    trail_knee = [[-0.15, 0, 1], [-0.18, 0, 1], [-0.25, 0, 1], [-0.25, 0, 1], [0.3, 0, 1],
                  [0.85, 0, 1], [1.1, 0, 1], [1.1, 0, 0.9], [1, 0, 0.6], [1, 0, 0.3]]  # fmt: skip
    lead_elbow = [[0.6, -0.5, -0.5], [0.5, -0.6, -0.4], [0.3, -0.9, -0.2], [0.2, -1.0, 0.0],
                  [0.3, -0.9, -0.1], [0.5, -0.6, -0.4], [0.6, -0.5, -0.5], [0.5, -0.6, -0.5],
                  [0.3, -0.9, -0.2], [0.4, -0.9, 0.3]]  # fmt: skip
    trail_elbow = [[-0.5, -0.5, -0.6], [-0.5, -0.6, -0.5], [-0.35, -0.9, -0.3], [-0.15, -1.0, 0.5],
                   [-0.1, -1.0, 0.5], [-0.2, -0.9, -0.2], [-0.4, -0.6, -0.5], [-0.5, -0.5, -0.5],
                   [-0.3, -0.8, -0.2], [-0.4, -0.9, 0.3]]  # fmt: skip
    tables = (lead_knee, trail_knee, lead_elbow, trail_elbow)
    return np.stack([np.array(table, dtype=float) for table in tables], axis=1)


def _feet(p: Player) -> FloatArray:
    lift = np.degrees(np.arcsin(np.clip(p["lead_heel_top"] / (0.72 * p["foot"]), 0.0, 0.4)))
    end, bank = p["trail_heel_end"], p["trail_bank"]
    return np.stack(
        [
            np.array([0.0, 0.1, 0.6, 1.0, 0.1, 0.0, 0.0, 0.0, 0.0, 0.0]) * lift,
            np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 2.0, 6.0, 14.0]),
            np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.03, 0.08, 0.2, 0.62, 1.0]) * end,
            np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.03, 0.1, 0.45, 0.75]) * 60.0,
            np.array([0.0, 0.0, 0.0, 0.0, 0.5, 1.0, 1.0, 0.8, 0.3, 0.0]) * bank,
        ],
        axis=-1,
    )


def _head(p: Player) -> FloatArray:
    top, through = p["head_turn_top"], p["head_p9"]
    turn = [0.0, 0.3 * top, 0.7 * top, top, 0.6 * top, 0.3 * top, 0.1 * top, 0.22 * through,
            through, 82.0]  # fmt: skip
    pitch = [42.0, 42.0, 42.0, 42.0, 43.0, 44.0, 44.0, 42.0, 26.0, 6.0]
    return np.stack([np.array(turn), np.array(pitch)], axis=-1)
