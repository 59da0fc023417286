"""From joint channels to joints: the forward kinematics of player and club."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import FloatArray
from training.simulator.body.clubs import HAND_FROM_BUTT, HANDS_APART, USUAL_STATURE
from training.simulator.body.limbs import length_at, middle_joint, pull_within
from training.simulator.body.rotations import about_x, about_y, about_z, clock_direction, unit
from training.simulator.golfer import Golfer
from training.simulator.swing.keys import Channel

# All judgement, by eye on stick figures; proportions of the foot are common ones.
_STRAIGHTEST_ARM: Final[float] = 0.999
_SOFTNESS: Final[float] = 0.0025
"""How far an arm stretches, and over how much of it that sets in, arm lengths."""
_BALL_OF_FOOT: Final[float] = 0.72
_HEEL_BEHIND_ANKLE: Final[float] = 0.22
"""From the heel forward to the ball of the foot and to the ankle, lengths of the foot."""
_BLEND: Final[float] = 150.0
"""How sharply the lower of two heights is taken, per metre."""
_BLADE_GLIDE: Final[float] = 0.055
"""How far a shoulder blade follows a hand, statures, at most."""
_GLIDE_FROM: Final[float] = 0.985
_GLIDE_SOFTNESS: Final[float] = 0.02
"""From where on it does, and over how much of the way that sets in, arm lengths."""


@dataclass(frozen=True)
class Trunk:
    """Trunk of every frame: joints of shape (n, 3), frames of reference of shape (n, 3, 3).

    The columns of a frame of reference are its axes: to the lead side, up, forward.
    """

    mid_hip: FloatArray
    mid_trunk: FloatArray
    neck: FloatArray
    lead_shoulder: FloatArray
    trail_shoulder: FloatArray
    pelvis: FloatArray
    chest: FloatArray


@dataclass(frozen=True)
class Hold:
    """Arms' ends and shaft of every frame, each of shape (n, 3); the hands lie on the shaft.

    The shoulders are where the shoulder blades have brought them.
    """

    lead_shoulder: FloatArray
    trail_shoulder: FloatArray
    lead_wrist: FloatArray
    trail_wrist: FloatArray
    lead_hand: FloatArray
    trail_hand: FloatArray
    shaft: FloatArray


def joints_of(channels: FloatArray, golfer: Golfer) -> FloatArray:
    """Joints of a right-hander for channels over time.

    Parameters
    ----------
    channels : array of shape (N_CHANNELS, n)
        In the order of :class:`~training.simulator.swing.keys.Channel`.

    Returns
    -------
    array of shape (n, N_POINTS, 3), metres in the world frame, canonical order.
    """
    joints = feet_of(channels, golfer)
    trunk = trunk_of(channels, golfer, joints)
    _place_trunk(joints, trunk)
    _place_legs(joints, channels, golfer, trunk)
    _place_head(joints, channels, golfer, trunk)
    _place_arms_and_club(joints, channels, golfer, trunk)
    return joints


def ankles_apart(golfer: Golfer) -> float:
    """Distance between the ankles at address, metres."""
    return (golfer.setup.stance + golfer.style.stance) * golfer.stature


def feet_of(c: FloatArray, golfer: Golfer) -> FloatArray:
    """Joints of shape (n, N_POINTS, 3) with ankles, heels and toes placed, the rest NaN."""
    joints = np.full((c.shape[1], N_POINTS, 3), np.nan)
    half, style = 0.5 * ankles_apart(golfer), golfer.style
    flat = np.zeros(c.shape[1])
    lead_yaw = style.lead_foot_flare + c[Channel.LEAD_FOOT_SPIN]
    trail_yaw = -style.trail_foot_flare + c[Channel.TRAIL_FOOT_SPIN]
    lead = _foot(golfer, half, style.lead_foot_flare, lead_yaw, flat, 1.0)
    trail = _foot(
        golfer, -half, -style.trail_foot_flare, trail_yaw, c[Channel.TRAIL_HEEL_LIFT], -1.0
    )
    for k, point in enumerate((Point.LEAD_ANKLE, Point.LEAD_HEEL, Point.LEAD_TOE)):
        joints[:, point] = lead[:, k]
        joints[:, point + 1] = trail[:, k]
    joints[:, Point.LEAD_SMALL_TOE] = lead[:, 3]
    joints[:, Point.TRAIL_SMALL_TOE] = trail[:, 3]
    return joints


def _foot(
    golfer: Golfer,
    ankle_x: float,
    address_yaw: float,
    yaw: FloatArray,
    lift: FloatArray,
    outward: float,
) -> FloatArray:
    """Ankle, heel, toe and small toe, shape (n, 4, 3).

    The foot turns about its ball, on which the heel also lifts; the toes stay flat.
    """
    foot, height = golfer.body.foot, golfer.body.ankle_height
    ball_ahead = (_BALL_OF_FOOT - _HEEL_BEHIND_ANKLE) * foot
    angle = np.radians(address_yaw)
    ball = np.array([ankle_x + ball_ahead * np.sin(angle), 0.0, ball_ahead * np.cos(angle)])
    toes_ahead = (1.0 - _BALL_OF_FOOT) * foot
    sole = np.array([[0.0, height, -ball_ahead], [0.0, 0.0, -_BALL_OF_FOOT * foot]])
    toes = np.array(
        [[-0.12 * outward * foot, 0.0, toes_ahead], [0.22 * outward * foot, 0.0, 0.5 * toes_ahead]]
    )
    heading = about_y(yaw)
    lifted = heading @ about_x(lift)
    back = np.einsum("nij,kj->nki", lifted, sole)
    front = np.einsum("nij,kj->nki", heading, toes)
    placed: FloatArray = ball + np.concatenate([back, front], axis=1)
    return placed


def trunk_of(c: FloatArray, golfer: Golfer, feet: FloatArray) -> Trunk:
    """Trunk over time, carried by legs that stand on ``feet`` (joints with ankles placed)."""
    body = golfer.body
    pelvis = (
        about_z(c[Channel.PELVIS_SIDE])
        @ about_x(c[Channel.PELVIS_BEND])
        @ about_y(c[Channel.PELVIS_TURN])
    )
    chest = (
        about_z(c[Channel.CHEST_SIDE])
        @ about_x(c[Channel.CHEST_BEND])
        @ about_y(c[Channel.CHEST_TURN])
    )
    mid_hip = np.stack(
        [
            c[Channel.PELVIS_X] * body.stature,
            np.zeros(c.shape[1]),
            c[Channel.PELVIS_Z] * body.stature,
        ],
        axis=-1,
    )
    mid_hip[:, 1] = _pelvis_height(c, golfer, mid_hip, pelvis, feet)
    loin = unit(pelvis[:, :, 1] + chest[:, :, 1])
    mid_trunk = mid_hip + body.lower_spine * loin
    neck = mid_trunk + body.upper_spine * chest[:, :, 1]
    middle = neck - body.shoulder_drop * chest[:, :, 1]
    aside = 0.5 * body.shoulders * chest[:, :, 0]
    return Trunk(mid_hip, mid_trunk, neck, middle + aside, middle - aside, pelvis, chest)


def _pelvis_height(
    c: FloatArray, golfer: Golfer, mid_hip: FloatArray, pelvis: FloatArray, feet: FloatArray
) -> FloatArray:
    """Height of the middle of the hips at which neither knee is straighter than asked.

    A smooth minimum of what the two legs allow.
    """
    allowed = []
    for side, ankle, flex in (
        (0.5, Point.LEAD_ANKLE, Channel.LEAD_KNEE_FLEX),
        (-0.5, Point.TRAIL_ANKLE, Channel.TRAIL_KNEE_FLEX),
    ):
        hip = mid_hip + side * golfer.body.hips * pelvis[:, :, 0]
        leg = length_at(c[flex], golfer.body.thigh, golfer.body.shank)
        away = np.hypot(hip[:, 0] - feet[:, ankle, 0], hip[:, 2] - feet[:, ankle, 2])
        rise = np.sqrt(np.maximum(leg**2 - away**2, 0.01))
        allowed.append(feet[:, ankle, 1] + rise - hip[:, 1])
    height: FloatArray = -np.logaddexp(-_BLEND * allowed[0], -_BLEND * allowed[1]) / _BLEND
    return height


def _place_trunk(joints: FloatArray, trunk: Trunk) -> None:
    joints[:, Point.MID_HIP] = trunk.mid_hip
    joints[:, Point.MID_TRUNK] = trunk.mid_trunk
    joints[:, Point.NECK] = trunk.neck


def _place_legs(joints: FloatArray, c: FloatArray, golfer: Golfer, trunk: Trunk) -> None:
    body = golfer.body
    flat = np.zeros(c.shape[1])
    for side, offset, out in (
        (0, 0.5, Channel.LEAD_KNEE_OUT),
        (1, -0.5, Channel.TRAIL_KNEE_OUT),
    ):
        hip = trunk.mid_hip + offset * body.hips * trunk.pelvis[:, :, 0]
        ankle = joints[:, Point.LEAD_ANKLE + side]
        pole = clock_direction(flat, flat, -c[out])
        joints[:, Point.LEAD_HIP + side] = hip
        joints[:, Point.LEAD_KNEE + side] = middle_joint(hip, ankle, body.thigh, body.shank, pole)


def _place_head(joints: FloatArray, c: FloatArray, golfer: Golfer, trunk: Trunk) -> None:
    body = golfer.body
    upright = np.array([0.0, 0.35, 0.0])
    centre = trunk.neck + body.neck * unit(trunk.chest[:, :, 1] + upright)
    frame = about_y(c[Channel.HEAD_TURN]) @ about_x(c[Channel.HEAD_PITCH])
    points = centre[:, None] + np.einsum("nij,kj->nki", frame, body.head)
    joints[:, Point.HEAD] = centre
    joints[:, Point.NOSE] = points[:, 0]
    joints[:, Point.HEAD_TOP] = points[:, 1]
    joints[:, [Point.LEAD_EYE, Point.TRAIL_EYE, Point.LEAD_EAR, Point.TRAIL_EAR]] = points[:, 2:]


def hold_of(c: FloatArray, golfer: Golfer, trunk: Trunk) -> Hold:
    """Where wrists, hands and shaft are: the lead arm leads, the trail hand joins on the grip.

    Where the trail arm would not reach, the hands give way toward it and the lead arm bends.
    """
    body = golfer.body
    arm = clock_direction(c[Channel.ARM_CLOCK], c[Channel.ARM_PLANE], c[Channel.ARM_HEADING])
    shaft = clock_direction(
        c[Channel.ARM_CLOCK] + c[Channel.WRIST_SET],
        c[Channel.SHAFT_PLANE],
        c[Channel.SHAFT_HEADING],
    )
    lead_wrist = trunk.lead_shoulder + (c[Channel.ARM_REACH] * body.arm)[:, None] * arm
    lead_grip = body.hand * hand_direction(arm, shaft)
    on_shaft = HANDS_APART * (body.stature / USUAL_STATURE) * shaft
    toward = unit(lead_wrist + lead_grip + on_shaft - trunk.trail_shoulder)
    trail_grip = body.hand * hand_direction(toward, shaft)
    to_trail = lead_grip + on_shaft - trail_grip
    reach, softness = _STRAIGHTEST_ARM * body.arm, _SOFTNESS * body.arm
    lead_shoulder = _reaching(trunk.neck, trunk.lead_shoulder, lead_wrist, golfer)
    trail_shoulder = _reaching(trunk.neck, trunk.trail_shoulder, lead_wrist + to_trail, golfer)
    for _ in range(4):
        lead_wrist = lead_wrist + pull_within(
            trail_shoulder, lead_wrist + to_trail, reach, softness
        )
        lead_wrist = lead_wrist + pull_within(lead_shoulder, lead_wrist, reach, softness)
    lead_hand = lead_wrist + lead_grip
    return Hold(
        lead_shoulder,
        trail_shoulder,
        lead_wrist,
        lead_wrist + to_trail,
        lead_hand,
        lead_hand + on_shaft,
        shaft,
    )


def _reaching(
    neck: FloatArray, shoulder: FloatArray, wrist: FloatArray, golfer: Golfer
) -> FloatArray:
    """Shoulder swung about the neck toward a wrist that is far away.

    The shoulder blade glides a few centimetres before the elbow is quite straight.
    """
    arm, most = golfer.body.arm, _BLADE_GLIDE * golfer.stature
    span = wrist - shoulder
    length = np.linalg.norm(span, axis=-1, keepdims=True)
    beyond = (
        _GLIDE_SOFTNESS * arm * np.logaddexp(0.0, (length / arm - _GLIDE_FROM) / _GLIDE_SOFTNESS)
    )
    clavicle = shoulder - neck
    glided = clavicle + most * np.tanh(beyond / most) * span / length
    moved: FloatArray = neck + unit(glided) * np.linalg.norm(clavicle[0])
    return moved


def hand_direction(arm: FloatArray, shaft: FloatArray) -> FloatArray:
    """Direction from wrist to knuckles: between those of the arm and of the shaft."""
    return unit(arm + 0.6 * shaft)


def _place_arms_and_club(joints: FloatArray, c: FloatArray, golfer: Golfer, trunk: Trunk) -> None:
    body, hold = golfer.body, hold_of(c, golfer, trunk)
    lead_pole = np.stack(list(c[Channel.LEAD_POLE_X : Channel.LEAD_POLE_Z + 1]), axis=-1)
    trail_pole = np.stack(list(c[Channel.TRAIL_POLE_X : Channel.TRAIL_POLE_Z + 1]), axis=-1)
    for side, shoulder, wrist, hand, pole in (
        (0, hold.lead_shoulder, hold.lead_wrist, hold.lead_hand, lead_pole),
        (1, hold.trail_shoulder, hold.trail_wrist, hold.trail_hand, trail_pole),
    ):
        world_pole = np.einsum("nij,nj->ni", trunk.chest, pole)
        joints[:, Point.LEAD_ELBOW + side] = middle_joint(
            shoulder, wrist, body.upper_arm, body.forearm, world_pole
        )
        joints[:, Point.LEAD_SHOULDER + side] = shoulder
        joints[:, Point.LEAD_WRIST + side] = wrist
        joints[:, Point.LEAD_HAND + side] = hand
    grip_end = hold.lead_hand - HAND_FROM_BUTT * hold.shaft
    clubhead = grip_end + golfer.club_length * hold.shaft
    joints[:, Point.GRIP_END] = grip_end
    joints[:, Point.GRIP] = 0.5 * (hold.lead_hand + hold.trail_hand)
    joints[:, Point.CLUBHEAD] = clubhead
    joints[:, Point.SHAFT_MID] = 0.5 * (grip_end + clubhead)
