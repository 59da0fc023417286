"""What players also do in front of a camera: stand, walk, throw. Never a golf swing."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import Club, FloatArray, Handedness, Intent
from training.simulator.body.limbs import middle_joint
from training.simulator.body.rotations import about_x, about_y, about_z
from training.simulator.body.segments import Body
from training.simulator.golfer import Golfer
from training.simulator.swing.curves import curve
from training.simulator.swing.motion import to_anatomical

# Common gait and proportions, from memory; what they look like was checked on stick figures.
_STRIDE_SECONDS: Final[float] = 1.08
"""From one heel strike of a foot to its next."""
_STEP: Final[float] = 0.39
"""How far a foot goes ahead of the hips, lengths of the leg."""
_FOOT_LIFT: Final[float] = 0.06
"""Half of how high an ankle is lifted, metres."""
_ARM_REACH: Final[float] = 0.95
_LEG_REACH: Final[float] = 0.985
"""How far arm and leg are stretched, lengths of each."""
_BLEND: Final[float] = 60.0
"""How sharply the lower of two heights is taken, per metre."""


@dataclass(frozen=True)
class _Pose:
    """An upright figure over time.

    ``place`` of shape (n, 3) is where on the ground the figure stands; ``heading``,
    ``chest_turn``, ``bend`` are degrees of shape (n,). ``ankles`` of shape (n, 2, 3) is
    relative to the place in the figure's own frame (lead side, up, forward);
    ``arms`` of shape (n, 2, 2) holds for each arm how far it is swung forward and held
    out sideways, degrees. Lead comes before trail.
    """

    place: FloatArray
    heading: FloatArray
    chest_turn: FloatArray
    bend: FloatArray
    ankles: FloatArray
    arms: FloatArray


@dataclass(frozen=True)
class OtherMotion(ABC):
    """A motion of a golfer that is no swing; no club is seen."""

    golfer: Golfer
    duration: float = 3.0

    @property
    def handedness(self) -> Handedness:
        """Which way the player plays."""
        return self.golfer.handedness

    @property
    def club(self) -> Club:
        """The player's club, though it is not in sight."""
        return self.golfer.club

    @property
    def intent(self) -> Intent:
        """Filmed as a swing at full speed, as any clip is unless told otherwise."""
        return Intent.FULL_SPEED

    def joints(self, times: FloatArray) -> FloatArray:
        """Joints in space, as :meth:`training.simulator.SwingMotion.joints`; club points NaN."""
        times = np.asarray(times, dtype=float)
        return to_anatomical(_figure(self._pose(times), self.golfer.body), self.handedness)

    @abstractmethod
    def _pose(self, times: FloatArray) -> _Pose:
        """Pose at times of shape (n,)."""


@dataclass(frozen=True)
class Standing(OtherMotion):
    """Standing and facing the ball, swaying a little, arms hanging."""

    def _pose(self, times: FloatArray) -> _Pose:
        sway = 2.0 * np.sin(2.0 * np.pi * 0.3 * times)
        place = np.zeros((times.size, 3))
        place[:, 0] = 0.004 * sway
        ankles = _ankles_apart(self.golfer, times.size)
        ankles[:, :, 0] -= place[:, [0]]
        arms = np.zeros((times.size, 2, 2))
        arms[..., 0] = 8.0 + sway[:, None]
        arms[..., 1] = 10.0
        still = np.zeros(times.size)
        return _Pose(place, still, sway, still + 3.0, ankles, arms)


@dataclass(frozen=True)
class Walking(OtherMotion):
    """Walking through the middle of the picture; ``heading`` 90 is toward the target."""

    heading: float = 90.0

    def _pose(self, times: FloatArray) -> _Pose:
        phase = 2.0 * np.pi * times / _STRIDE_SECONDS
        step = _STEP * self.golfer.body.leg
        speed = 4.0 * step / _STRIDE_SECONDS
        heading = np.full(times.size, self.heading)
        ahead = about_y(heading)[:, :, 2]
        place = (speed * (times - 0.5 * self.duration))[:, None] * ahead
        ankles = _ankles_apart(self.golfer, times.size)
        for side, shift in ((0, 0.0), (1, np.pi)):
            ankles[:, side, 0] *= 0.5
            ankles[:, side, 1] += _FOOT_LIFT * (1.0 - np.sin(phase + shift)) ** 2 / 2.0
            ankles[:, side, 2] = step * np.cos(phase + shift)
        arms = np.full((times.size, 2, 2), 8.0)
        arms[:, 0, 0] = 4.0 - 24.0 * np.cos(phase)
        arms[:, 1, 0] = 4.0 + 24.0 * np.cos(phase)
        return _Pose(place, heading, 6.0 * np.cos(phase), 0.0 * phase + 4.0, ankles, arms)


@dataclass(frozen=True)
class Throwing(OtherMotion):
    """Throwing something toward the target, overarm, with the trail arm.

    The throw lasts about a second in the middle of the clip.
    """

    def _pose(self, times: FloatArray) -> _Pose:
        middle = 0.5 * self.duration
        knots = middle + np.array([-middle, -0.6, -0.05, 0.12, 0.55, middle])
        # Columns: chest turn, bend, shift of weight, trail arm's swing and how far out it is.
        keys = np.array(
            [
                [0.0, 3.0, 0.0, 0.0, 10.0],
                [0.0, 3.0, 0.0, 0.0, 10.0],
                [-55.0, 2.0, -0.06, -110.0, 25.0],
                [30.0, 15.0, 0.10, -255.0, 35.0],
                [70.0, 22.0, 0.14, -335.0, 10.0],
                [70.0, 22.0, 0.14, -335.0, 10.0],
            ]
        )
        rests = np.array([True, True, False, False, True, True])
        turn, bend, shift, swing, out = curve(knots, keys, rests)(times).T
        place = np.zeros((times.size, 3))
        place[:, 0] = shift
        ankles = _ankles_apart(self.golfer, times.size)
        heading = np.zeros(times.size) + 60.0
        moved = np.einsum("nji,nj->ni", about_y(heading), place)
        ankles -= moved[:, None]
        arms = np.stack(
            [np.stack([20.0 - 0.2 * turn, 0.0 * turn + 15.0], -1), np.stack([swing, out], -1)],
            axis=1,
        )
        return _Pose(place, heading, turn, bend, ankles, arms)


def _ankles_apart(golfer: Golfer, n: int) -> FloatArray:
    body = golfer.body
    ankles = np.zeros((n, 2, 3))
    ankles[:, :, 0] = 0.08 * body.stature * np.array([1.0, -1.0])
    ankles[:, :, 1] = body.ankle_height
    return ankles


def _figure(pose: _Pose, body: Body) -> FloatArray:
    """Joints of shape (n, N_POINTS, 3) in canonical order."""
    joints = np.full((pose.heading.size, N_POINTS, 3), np.nan)
    facing = about_y(pose.heading)
    _place_legs(joints, pose, body, facing)
    chest = facing @ about_x(pose.bend) @ about_y(pose.chest_turn)
    mid_hip = joints[:, Point.MID_HIP]
    joints[:, Point.MID_TRUNK] = mid_hip + body.lower_spine * chest[:, :, 1]
    neck = joints[:, Point.MID_TRUNK] + body.upper_spine * chest[:, :, 1]
    joints[:, Point.NECK] = neck
    _place_arms(joints, pose, body, chest)
    head = neck + body.neck * chest[:, :, 1]
    points = head[:, None] + np.einsum("nij,kj->nki", facing, body.head)
    joints[:, Point.HEAD] = head
    joints[:, [Point.NOSE, Point.HEAD_TOP]] = points[:, :2]
    joints[:, Point.LEAD_EYE : Point.TRAIL_EAR + 1] = points[:, 2:]
    return joints


def _place_legs(joints: FloatArray, pose: _Pose, body: Body, facing: FloatArray) -> None:
    ankles = pose.place[:, None] + np.einsum("nij,nkj->nki", facing, pose.ankles)
    away = np.hypot(pose.ankles[..., 0], pose.ankles[..., 2])
    rise = pose.ankles[..., 1] + np.sqrt((_LEG_REACH * body.leg) ** 2 - away**2)
    height = -np.logaddexp(-_BLEND * rise[:, 0], -_BLEND * rise[:, 1]) / _BLEND
    mid_hip = pose.place + np.array([0.0, 1.0, 0.0]) * height[:, None]
    joints[:, Point.MID_HIP] = mid_hip
    for side, outward in ((0, 1.0), (1, -1.0)):
        hip = mid_hip + 0.5 * outward * body.hips * facing[:, :, 0]
        ankle = ankles[:, side]
        sole = ankle - body.ankle_height * facing[:, :, 1]
        joints[:, Point.LEAD_HIP + side] = hip
        joints[:, Point.LEAD_ANKLE + side] = ankle
        joints[:, Point.LEAD_KNEE + side] = middle_joint(
            hip, ankle, body.thigh, body.shank, facing[:, :, 2]
        )
        for point, share in ((Point.LEAD_HEEL, -0.22), (Point.LEAD_TOE, 0.78)):
            joints[:, point + side] = sole + share * body.foot * facing[:, :, 2]
        joints[:, Point.LEAD_SMALL_TOE + side] = sole + body.foot * (
            0.65 * facing[:, :, 2] + 0.2 * outward * facing[:, :, 0]
        )


def _place_arms(joints: FloatArray, pose: _Pose, body: Body, chest: FloatArray) -> None:
    middle = joints[:, Point.NECK] - body.shoulder_drop * chest[:, :, 1]
    for side, outward in ((0, 1.0), (1, -1.0)):
        swing, out = pose.arms[:, side].T
        hanging = about_z(outward * out) @ about_x(-swing)
        arm = -(chest @ hanging)[:, :, 1]
        shoulder = middle + 0.5 * outward * body.shoulders * chest[:, :, 0]
        wrist = shoulder + _ARM_REACH * body.arm * arm
        behind = -(chest @ hanging)[:, :, 2]
        joints[:, Point.LEAD_SHOULDER + side] = shoulder
        joints[:, Point.LEAD_WRIST + side] = wrist
        joints[:, Point.LEAD_ELBOW + side] = middle_joint(
            shoulder, wrist, body.upper_arm, body.forearm, behind
        )
        joints[:, Point.LEAD_HAND + side] = wrist + body.hand * arm
