"""From key positions at a moment to the joints of body and club: inverse kinematics."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import FloatArray
from training.simulator.keyed.arms import GRIP_HOLD, glided, knuckles, trail_hand, within_reach
from training.simulator.keyed.feet import beyond_the_legs, feet_of
from training.simulator.keyed.keys import side_axis
from training.simulator.keyed.player import Player
from training.simulator.keyed.vectors import bend_toward, unit

# Nose, top of the head, eyes and ears about its middle: lead side, up, forward; from memory.
_HEAD: Final[FloatArray] = np.array(
    [
        [0.0, -0.014, 0.058],
        [0.0, 0.066, 0.004],
        [0.018, 0.008, 0.049],
        [-0.018, 0.008, 0.049],
        [0.041, 0.0, 0.0],
        [-0.041, 0.0, 0.0],
    ]
)


@dataclass(frozen=True)
class Pose:
    """Interpolated key positions at n moments; the fields of
    :class:`~training.simulator.keyed.keys.Keys` with n for ten, ``shaft`` without its plane."""

    pelvis: FloatArray
    neck: FloatArray
    pelvis_up: FloatArray
    pelvis_turn: FloatArray
    chest_turn: FloatArray
    anchor: FloatArray
    arm: FloatArray
    shaft: FloatArray
    poles: FloatArray
    feet: FloatArray
    head: FloatArray


def joints_of(pose: Pose, player: Player) -> FloatArray:
    """Joints of shape (n, N_POINTS, 3) in statures."""
    joints = np.full((len(pose.anchor), N_POINTS, 3), np.nan)
    _place_feet(joints, pose, player)
    shift = _place_trunk(joints, pose, player)
    _place_legs(joints, pose, player)
    _place_arms(joints, pose, player, shift)
    return joints


def _place_feet(joints: FloatArray, pose: Pose, player: Player) -> None:
    for side, foot in enumerate(feet_of(pose.feet, player)):
        for k, first in enumerate(
            (Point.LEAD_ANKLE, Point.LEAD_HEEL, Point.LEAD_TOE, Point.LEAD_SMALL_TOE)
        ):
            joints[:, first + side] = foot[:, k]


def _place_trunk(joints: FloatArray, pose: Pose, player: Player) -> FloatArray:
    """Trunk and head; lets the pelvis down as far as the legs need, and returns by how much."""
    up = unit(pose.neck - pose.pelvis)
    side = side_axis(unit(pose.pelvis_up), pose.pelvis_turn)
    pelvis = pose.pelvis.copy()
    ankles = joints[:, Point.LEAD_ANKLE], joints[:, Point.TRAIL_ANKLE]
    pelvis[:, 1] -= beyond_the_legs(pelvis, side, ankles, player)
    shift = pelvis - pose.pelvis
    lower = 0.42 * player["spine"] * unit(0.5 * unit(pose.pelvis_up) + 0.5 * up)
    neck = pelvis + player["spine"] * up
    joints[:, Point.MID_HIP] = pelvis
    joints[:, Point.LEAD_HIP] = pelvis + 0.5 * player["hip_width"] * side
    joints[:, Point.TRAIL_HIP] = pelvis - 0.5 * player["hip_width"] * side
    joints[:, Point.MID_TRUNK] = pelvis + lower
    joints[:, Point.NECK] = neck
    _place_head(joints, pose, neck, up)
    return shift


def _place_head(joints: FloatArray, pose: Pose, neck: FloatArray, up: FloatArray) -> None:
    centre = neck + 0.092 * unit(up + np.array([0.0, 0.3, 0.0]))
    turn, pitch = np.radians(pose.head).T
    forward = np.stack([np.sin(turn) * np.cos(pitch), -np.sin(pitch),
                        np.cos(turn) * np.cos(pitch)], axis=-1)  # fmt: skip
    aside = np.stack([np.cos(turn), np.zeros_like(turn), -np.sin(turn)], axis=-1)
    axes = np.stack([aside, np.cross(forward, aside), forward], axis=1)
    points = centre[:, None] + np.einsum("kj,nji->nki", _HEAD, axes)
    joints[:, Point.HEAD] = centre
    joints[:, Point.NOSE], joints[:, Point.HEAD_TOP] = points[:, 0], points[:, 1]
    joints[:, [Point.LEAD_EYE, Point.TRAIL_EYE, Point.LEAD_EAR, Point.TRAIL_EAR]] = points[:, 2:]


def _place_legs(joints: FloatArray, pose: Pose, player: Player) -> None:
    for side in (0, 1):
        joints[:, Point.LEAD_KNEE + side] = bend_toward(
            joints[:, Point.LEAD_HIP + side],
            joints[:, Point.LEAD_ANKLE + side],
            player["thigh"],
            player["shank"],
            pose.poles[:, side],
        )


def _place_arms(joints: FloatArray, pose: Pose, player: Player, shift: FloatArray) -> None:
    up = unit(pose.neck - pose.pelvis)
    side = side_axis(up, pose.chest_turn)
    chest = np.stack([side, up, np.cross(side, up)], axis=1)
    middle = pose.neck + shift - 0.012 * up
    offset = 0.5 * player["shoulder_width"] * side
    lead, trail = middle + offset, middle - offset
    anchor = lead + pose.anchor[:, None] * (trail - lead)
    shaft = pose.shaft
    wrist = within_reach(lead, trail, anchor + pose.arm, shaft, player)
    hand = knuckles(wrist, unit(wrist - lead), shaft, player)
    other_wrist, other = trail_hand(hand, trail, shaft, player)
    lead, trail = glided(lead, wrist, player), glided(trail, other_wrist, player)
    for k, (root, end, tip) in enumerate(((lead, wrist, hand), (trail, other_wrist, other))):
        pole = np.einsum("nj,nji->ni", pose.poles[:, 2 + k], chest)
        joints[:, Point.LEAD_SHOULDER + k] = root
        joints[:, Point.LEAD_ELBOW + k] = bend_toward(
            root, end, player["upper_arm"], player["forearm"], pole
        )
        joints[:, Point.LEAD_WRIST + k] = end
        joints[:, Point.LEAD_HAND + k] = tip
    butt = hand - GRIP_HOLD * shaft
    joints[:, Point.GRIP_END] = butt
    joints[:, Point.GRIP] = 0.5 * (hand + other)
    joints[:, Point.CLUBHEAD] = butt + player.club_length * shaft
    joints[:, Point.SHAFT_MID] = butt + 0.5 * player.club_length * shaft
