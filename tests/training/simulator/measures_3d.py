"""What a fault changes, measured on the simulator's joints in space."""

from __future__ import annotations

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray
from training.simulator import SwingMotion

POSITIONS = np.arange(1.0, 11.0)


def joints_at(motion: SwingMotion, *positions: float) -> FloatArray:
    times = np.interp(positions, POSITIONS, motion.position_times)
    return motion.canonical_joints(times)


def angle_between(u: FloatArray, v: FloatArray) -> FloatArray:
    lengths = np.linalg.norm(u, axis=-1) * np.linalg.norm(v, axis=-1)
    return np.degrees(np.arccos(np.clip(np.sum(u * v, axis=-1) / lengths, -1.0, 1.0)))


def flexion(joints: FloatArray, root: Point, middle: Point, end: Point) -> FloatArray:
    return angle_between(joints[:, middle] - joints[:, root], joints[:, end] - joints[:, middle])


def lead_arm(joints: FloatArray) -> FloatArray:
    return joints[:, Point.LEAD_WRIST] - joints[:, Point.LEAD_SHOULDER]


def shaft(joints: FloatArray) -> FloatArray:
    return joints[:, Point.CLUBHEAD] - joints[:, Point.GRIP_END]


def shoulder_turn(joints: FloatArray) -> FloatArray:
    across = joints[:, Point.LEAD_SHOULDER] - joints[:, Point.TRAIL_SHOULDER]
    return np.degrees(np.arctan2(-across[:, 2], across[:, 0]))


def hip_turn(joints: FloatArray) -> FloatArray:
    across = joints[:, Point.LEAD_HIP] - joints[:, Point.TRAIL_HIP]
    return np.degrees(np.arctan2(-across[:, 2], across[:, 0]))


def side_tilt(joints: FloatArray) -> FloatArray:
    spine = joints[:, Point.NECK] - joints[:, Point.MID_HIP]
    return np.degrees(np.arctan2(-spine[:, 0], spine[:, 1]))


def arm_lift_without_turn(motion: SwingMotion) -> float:
    """How far the hands stay out in front between P3 and P4."""
    third, top = joints_at(motion, 3, 4)[:, Point.LEAD_HAND]
    return float(top[2] - third[2])


def shaft_above_trail_shoulder(motion: SwingMotion) -> float:
    """Height at which, down the line, the shaft's line passes over the trail shoulder at P5."""
    joints = joints_at(motion, 5)
    direction, shoulder = shaft(joints)[0], joints[0, Point.TRAIL_SHOULDER]
    start = joints[0, Point.GRIP_END]
    along = (shoulder[2] - start[2]) / direction[2]
    return float(start[1] + along * direction[1] - shoulder[1])


def trail_heel_height(motion: SwingMotion) -> float:
    return float(joints_at(motion, 6.5)[0, Point.TRAIL_HEEL, 1])


def elbow_gap_growth(motion: SwingMotion) -> float:
    joints = joints_at(motion, 1, 8.5)
    gap = np.linalg.norm(joints[:, Point.LEAD_ELBOW] - joints[:, Point.TRAIL_ELBOW], axis=-1)
    return float(gap[1] - gap[0])


def wrist_break(motion: SwingMotion) -> float:
    joints = joints_at(motion, 8)
    return float(angle_between(lead_arm(joints), shaft(joints))[0])


def tilt_before_impact(motion: SwingMotion) -> float:
    return float(side_tilt(joints_at(motion, 6.5))[0])


def hand_rise(motion: SwingMotion) -> float:
    hands = joints_at(motion, 1, 7)[:, Point.LEAD_HAND, 1]
    return float(hands[1] - hands[0])


def trail_knee_advance(motion: SwingMotion) -> float:
    knee = joints_at(motion, 5, 6)[:, Point.TRAIL_KNEE, 2]
    return float(knee[1] - knee[0])


def drift_from_target(motion: SwingMotion) -> float:
    joints = joints_at(motion, 1, 4)
    middle = 0.5 * (joints[:, Point.LEAD_SHOULDER] + joints[:, Point.TRAIL_SHOULDER])
    return float(middle[0, 0] - middle[1, 0])


def arm_height_at_top(motion: SwingMotion) -> float:
    arm = lead_arm(joints_at(motion, 4))[0]
    return float(np.degrees(np.arcsin(arm[1] / np.linalg.norm(arm))))


def haste(motion: SwingMotion) -> float:
    times = motion.position_times
    return float((times[6] - times[3]) / (times[3] - times[0]))


def turn_left_undone(motion: SwingMotion) -> float:
    turn = shoulder_turn(joints_at(motion, 7, 9))
    return float(turn[0] - turn[1])


def bend_lost(motion: SwingMotion) -> float:
    """Degrees by which the trunk is bent toward the ball less at impact than at address."""
    joints = joints_at(motion, 1, 7)
    middle = 0.5 * (joints[:, Point.LEAD_SHOULDER] + joints[:, Point.TRAIL_SHOULDER])
    hips = 0.5 * (joints[:, Point.LEAD_HIP] + joints[:, Point.TRAIL_HIP])
    spine = middle - hips
    bend = np.degrees(np.arctan2(spine[:, 2], spine[:, 1]))
    return float(bend[0] - bend[1])


def pelvis_advance(motion: SwingMotion) -> float:
    """Metres by which the middle of the hips comes nearer the ball from address to impact."""
    joints = joints_at(motion, 1, 7)
    hips = 0.5 * (joints[:, Point.LEAD_HIP, 2] + joints[:, Point.TRAIL_HIP, 2])
    return float(hips[1] - hips[0])


def pelvis_slide(motion: SwingMotion) -> float:
    """Metres by which the middle of the hips comes toward the target from address to impact."""
    joints = joints_at(motion, 1, 7)
    hips = 0.5 * (joints[:, Point.LEAD_HIP, 0] + joints[:, Point.TRAIL_HIP, 0])
    return float(hips[1] - hips[0])


def wrists_opened(motion: SwingMotion) -> float:
    """Degrees by which lead arm and shaft come into line from the top to P5, in space."""
    joints = joints_at(motion, 4, 5)
    top, down = angle_between(lead_arm(joints), shaft(joints))
    return float(top - down)
