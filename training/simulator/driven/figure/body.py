"""Feet, legs, trunk and head at moments of a swing, in the world frame of the simulator, statures.

Directions to the lead side, up and forward are unit vectors of shape (n, 3); ``values`` are the
courses of a plan at n moments, by name, each of shape (n,).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray
from training.simulator.body.vectors import across, bend_toward, soft_excess, turned, unit
from training.simulator.driven.player import Player

_UP: Final[FloatArray] = np.array([0.0, 1.0, 0.0])
_TO_TARGET: Final[FloatArray] = np.array([1.0, 0.0, 0.0])
_BALL_OF_FOOT: Final[float] = 0.72
"""From the heel to the ball of the foot, about which it lifts and spins, foot lengths."""
_ANKLE_FROM_HEEL: Final[float] = 0.25
_STRAIGHTEST: Final[float] = 0.997
"""Of a leg, of the length of its bones."""
_SOFT: Final[float] = 0.003
_SHOULDERS_BELOW_NECK: Final[float] = 0.012
_SHOULDERS_AHEAD: Final[float] = 0.012
"""Of the base of the neck, as arms hang before the chest, statures; from memory."""
_SHOULDER_GOES: Final[FloatArray] = np.array([-0.010, 0.0, 0.014])
"""How a shoulder goes with an arm that swings across the chest: outward, up, forward, statures;
from memory."""
_ACROSS: Final[float] = 130.0
"""Degrees by which such an arm has swung."""
_PELVIS_TILTS: Final[float] = 0.35
"""Of the trunk's lean to the side; from memory."""
# Nose, top of the head, eyes and ears about its middle: lead side, up, forward; from memory.
_HEAD: Final[FloatArray] = np.array(
    [
        [0.0, -0.012, 0.060],
        [0.0, 0.064, 0.002],
        [0.018, 0.009, 0.050],
        [-0.018, 0.009, 0.050],
        [0.042, 0.0, 0.0],
        [-0.042, 0.0, 0.0],
    ]
)


@dataclass(frozen=True)
class Trunk:
    """The trunk at n moments: ``pelvis``, ``neck`` and shoulders are places of shape (n, 3);
    ``side``, ``up`` and ``forward`` the directions of the chest."""

    pelvis: FloatArray
    hips_side: FloatArray
    neck: FloatArray
    side: FloatArray
    up: FloatArray
    forward: FloatArray
    lead_shoulder: FloatArray
    trail_shoulder: FloatArray


def standing_height(player: Player) -> float:
    """Height of the middle of the hips at address."""
    thigh, shank = player["thigh"], player["shank"]
    bent = np.cos(np.radians(player["knee_flex"]))
    leg2 = thigh**2 + shank**2 + 2.0 * thigh * shank * bent
    aside = player.half_stance - 0.5 * player["hip_width"]
    return float(player["ankle_height"] + np.sqrt(leg2 - aside**2 - player["balance"] ** 2))


def trunk_at(values: Mapping[str, FloatArray], feet: FloatArray, player: Player) -> Trunk:
    """Trunk over feet of shape (n, 2, 4, 3), let down as far as the legs need."""
    v = values
    pelvis = np.stack([v["pelvis_x"], v["pelvis_y"], v["pelvis_z"]], axis=-1)
    turn, tilt = np.radians(v["pelvis_turn"]), np.radians(_PELVIS_TILTS * v["side"])
    level = np.stack([np.cos(turn), np.zeros_like(turn), -np.sin(turn)], axis=-1)
    hips_side = level * np.cos(tilt)[:, None] + _UP * np.sin(tilt)[:, None]
    pelvis[:, 1] -= _beyond_the_legs(pelvis, hips_side, feet[:, :, 0], player)
    bend, lean = np.radians(v["bend"]), np.radians(v["side"])
    up = np.stack(
        [-np.sin(lean), np.cos(lean) * np.cos(bend), np.cos(lean) * np.sin(bend)], axis=-1
    )
    square = turned(across(np.broadcast_to(_TO_TARGET, up.shape), up), up, v["chest_turn"])
    forward = np.cross(square, up)
    side = turned(square, forward, v["chest_tilt"])
    neck = pelvis + player["spine"] * up
    middle = neck - _SHOULDERS_BELOW_NECK * up + _SHOULDERS_AHEAD * forward
    half = 0.5 * player["shoulder_width"] * side
    swung = v["arm"] / _ACROSS
    lead = np.clip(swung, 0.0, 1.2)[:, None] * _goes(side, up, forward)
    trail = np.clip(-swung, 0.0, 1.2)[:, None] * _goes(-side, up, forward)
    return Trunk(
        pelvis, hips_side, neck, side, up, forward, middle + half + lead, middle - half + trail
    )


def _goes(outward: FloatArray, up: FloatArray, forward: FloatArray) -> FloatArray:
    out, high, ahead = _SHOULDER_GOES
    return np.asarray(out * outward + high * up + ahead * forward)


def _beyond_the_legs(
    pelvis: FloatArray, side: FloatArray, ankles: FloatArray, player: Player
) -> FloatArray:
    """How far the hips are too high for legs to ankles of shape (n, 2, 3), set in gradually."""
    reach = _STRAIGHTEST * (player["thigh"] + player["shank"])
    high = np.zeros(len(pelvis))
    for k, sign in enumerate((1.0, -1.0)):
        hip = pelvis + 0.5 * sign * player["hip_width"] * side
        away = np.hypot(*(hip - ankles[:, k])[:, [0, 2]].T)
        most = np.sqrt(np.maximum(reach**2 - away**2, 0.01)) + ankles[:, k, 1]
        high = np.maximum(high, soft_excess(hip[:, 1] - most, 0.0, _SOFT))
    return high


def feet_at(values: Mapping[str, FloatArray], player: Player) -> FloatArray:
    """Ankle, heel, big and small toe of the lead and the trail foot, shape (n, 2, 4, 3)."""
    half = player.half_stance
    still = np.zeros_like(values["trail_heel"])
    lifts = [np.maximum(values[f"{side}_heel"], 0.0) for side in ("lead", "trail")]
    spin, flares = values["trail_spin"], (player["lead_flare"], -player["trail_flare"])
    lead = _foot(player, half, flares[0], lifts[0], still, 1.0)
    trail = _foot(player, -half, flares[1], lifts[1], spin, -1.0)
    return np.stack([lead, trail], axis=1)


def _foot(
    player: Player, x: float, flare: float, lift: FloatArray, spin: FloatArray, outward: float
) -> FloatArray:
    """A foot whose heel lifts and spins about its ball; the toes stay down. Shape (n, 4, 3)."""
    length = player["foot"]
    behind = (_BALL_OF_FOOT - _ANKLE_FROM_HEEL) * length
    rest = np.radians(flare)
    ball = np.array([x + behind * np.sin(rest), 0.0, behind * np.cos(rest)])
    yaw = np.radians(flare + spin)
    ahead = np.stack([np.sin(yaw), np.zeros_like(yaw), np.cos(yaw)], axis=-1)
    aside = np.cross(_UP, ahead)
    back = turned(-ahead, aside, lift)
    high = turned(np.broadcast_to(_UP, ahead.shape), aside, lift)
    heel = ball + _BALL_OF_FOOT * length * back
    ankle = ball + behind * back + player["ankle_height"] * high
    tip = (1.0 - _BALL_OF_FOOT) * length
    toe = ball + tip * ahead - 0.10 * outward * length * aside
    small = ball + 0.45 * tip * ahead + 0.22 * outward * length * aside
    return np.stack([ankle, heel, toe, small], axis=1)


def place_body(
    joints: FloatArray,
    trunk: Trunk,
    feet: FloatArray,
    values: Mapping[str, FloatArray],
    player: Player,
) -> None:
    """Put feet, legs, trunk and head into joints of shape (n, N_POINTS, 3)."""
    for side in (0, 1):
        for k, first in enumerate(
            (Point.LEAD_ANKLE, Point.LEAD_HEEL, Point.LEAD_TOE, Point.LEAD_SMALL_TOE)
        ):
            joints[:, first + side] = feet[:, side, k]
    half = 0.5 * player["hip_width"] * trunk.hips_side
    hips = trunk.pelvis + half, trunk.pelvis - half
    joints[:, Point.MID_HIP] = trunk.pelvis
    joints[:, Point.MID_TRUNK] = trunk.pelvis + 0.42 * player["spine"] * trunk.up
    joints[:, Point.NECK] = trunk.neck
    yaws = _knees_point(values, player)
    for side, hip in enumerate(hips):
        pole = np.stack(
            [np.sin(yaws[side]), np.zeros_like(yaws[side]), np.cos(yaws[side])], axis=-1
        )
        joints[:, Point.LEAD_HIP + side] = hip
        joints[:, Point.LEAD_KNEE + side] = bend_toward(
            hip, feet[:, side, 0], player["thigh"], player["shank"], pole
        )
    _place_head(joints, trunk, values)


def _knees_point(values: Mapping[str, FloatArray], player: Player) -> tuple[FloatArray, FloatArray]:
    """Where the knees point, radians from straight ahead toward the target: as the feet do and a
    little as the pelvis turns, the trail one inward coming down."""
    turn = values["pelvis_turn"]
    lead = player["lead_flare"] + 0.5 * turn
    trail = -player["trail_flare"] + 0.15 * np.minimum(turn, 0.0) + values["knee_in"]
    return np.radians(lead), np.radians(trail)


def _place_head(joints: FloatArray, trunk: Trunk, values: Mapping[str, FloatArray]) -> None:
    centre = trunk.neck + 0.092 * unit(trunk.up + 0.4 * _UP)
    turn, pitch = np.radians(values["head_turn"]), np.radians(values["head_pitch"])
    forward = np.stack(
        [np.sin(turn) * np.cos(pitch), -np.sin(pitch), np.cos(turn) * np.cos(pitch)], axis=-1
    )
    aside = np.stack([np.cos(turn), np.zeros_like(turn), -np.sin(turn)], axis=-1)
    axes = np.stack([aside, np.cross(forward, aside), forward], axis=1)
    points = centre[:, None] + np.einsum("kj,nji->nki", _HEAD, axes)
    joints[:, Point.HEAD] = centre
    joints[:, Point.NOSE], joints[:, Point.HEAD_TOP] = points[:, 0], points[:, 1]
    joints[:, [Point.LEAD_EYE, Point.TRAIL_EYE, Point.LEAD_EAR, Point.TRAIL_EAR]] = points[:, 2:]
