"""Feet that stay planted about their toes, the pelvis, and legs of fixed length between them."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray
from tests.reference.stranger.golfer.clock import Clock
from tests.reference.stranger.golfer.keys import Keys
from tests.reference.stranger.golfer.player import Player
from tests.reference.stranger.vectors import RATE, joint_between, smooth

# Of a foot, statures: how high ankle, heel and toe are on the ground, how far the ankle is behind
# the toe and the heel behind the ankle. Judgements, from the length of a foot (Drillis and Contini,
# from memory).
_ANKLE_HIGH, _HEEL_HIGH, _TOE_HIGH = 0.040, 0.008, 0.012
_ANKLE_BACK, _HEEL_BACK = 0.115, 0.032
_HIPS_BACK: Final = 0.055
"""Statures by which the hips are behind the ankles at address; judgement."""
_LONGEST_LEG: Final = 0.992
"""Share of its length to which a leg stretches."""
_SETTLE: Final = 0.02
"""Seconds over which the pelvis gives way to a leg that is too short."""
_SWAY: Final = 0.0005
_SWAY_TIME: Final = 0.25
"""Statures by which a body that stands sways, and in which time (seconds); judgements."""
_KNEE_OUT: Final = 1.5
"""How much a driven knee points to the ball besides its usual way, by unit; judgement."""
_UP: Final = np.array([0.0, 1.0, 0.0])


def sway(clock: Clock, rng: np.random.Generator) -> FloatArray:
    """Postural sway along the ground, (n, 3), statures."""
    count = clock.times.size
    drawn = smooth(rng.standard_normal((count + 2 * int(RATE), 2)), _SWAY_TIME)
    drawn *= _SWAY * np.sqrt(2.0 * np.sqrt(np.pi) * _SWAY_TIME * RATE)
    drawn = drawn[int(RATE) :][:count]
    return np.stack([drawn[:, 0], np.zeros(count), drawn[:, 1]], axis=1)


def stand(
    joints: FloatArray, player: Player, keys: Keys, clock: Clock, rng: np.random.Generator
) -> None:
    """Place feet, hips and knees on joints of shape (n, N_POINTS, 3), statures."""
    lead, trail = player.flares
    level = np.zeros(clock.times.size)
    ways = (
        _foot(joints, 0, player.stance, lead + level, clock.legs(keys.lead_heel)),
        _foot(joints, 1, -player.stance, clock.legs(keys.heel_out) - trail, clock.legs(keys.heel)),
    )
    pelvis = _pelvis(player, keys, clock) + sway(clock, rng)
    turn = np.radians(clock.legs(keys.pelvis_turn))
    across = player.hip * np.stack([np.cos(turn), level, np.sin(turn)], axis=1)
    _keep_in_reach(joints, pelvis, across, player)
    joints[:, Point.LEAD_HIP], joints[:, Point.TRAIL_HIP] = pelvis + across, pelvis - across
    to_target, to_ball = clock.legs(keys.knee_in), _KNEE_OUT * clock.legs(keys.knee_out)
    pointing = (ways[0], ways[1] + np.stack([to_target, level, to_ball], axis=1))
    for side, way in enumerate(pointing):
        ends = joints[:, Point.LEAD_HIP + side], joints[:, Point.LEAD_ANKLE + side]
        knee = joint_between(ends, (player.thigh, player.shank), way + 0.1 * _UP)
        joints[:, Point.LEAD_KNEE + side] = knee


def _foot(
    joints: FloatArray, side: int, place: float, yaw: FloatArray, pitch: FloatArray
) -> FloatArray:
    """Place one foot that pitches and turns about its toe; the way it points to, (n, 3).

    Parameters
    ----------
    side
        0 for the lead, 1 for the trail foot.
    place
        Of the ankle at address, to the target, statures.
    yaw, pitch : arrays of shape (n,)
        Degrees: turn to the target, lift of the heel.
    """
    turn, lift = np.radians(yaw), np.radians(np.maximum(pitch, 0.0))
    way = np.stack([np.sin(turn), np.zeros_like(turn), np.cos(turn)], axis=1)
    toe = np.array([place, _TOE_HIGH, 0.0]) + _ANKLE_BACK * way[0]

    def behind(back: float, up: float) -> FloatArray:
        along = back * np.cos(lift) - up * np.sin(lift)
        height = back * np.sin(lift) + up * np.cos(lift)
        return np.asarray(toe - along[:, None] * way + height[:, None] * _UP)

    joints[:, Point.LEAD_TOE + side] = toe
    joints[:, Point.LEAD_ANKLE + side] = behind(_ANKLE_BACK, _ANKLE_HIGH - _TOE_HIGH)
    joints[:, Point.LEAD_HEEL + side] = behind(_ANKLE_BACK + _HEEL_BACK, _HEEL_HIGH - _TOE_HIGH)
    return way


def _pelvis(player: Player, keys: Keys, clock: Clock) -> FloatArray:
    """The middle of the hips, (n, 3), as high at address as the bent knees leave it."""
    bent = player.leg * np.cos(np.radians(0.5 * player.knee_bend))
    high = _ANKLE_HIGH + np.sqrt(bent**2 - (player.stance - player.hip) ** 2)
    return np.stack(
        [
            clock.legs(keys.pelvis_x),
            clock.legs(keys.pelvis_y) + high,
            clock.legs(keys.pelvis_z) - _HIPS_BACK,
        ],
        axis=1,
    )


def _keep_in_reach(
    joints: FloatArray, pelvis: FloatArray, across: FloatArray, player: Player
) -> None:
    """Lower the pelvis where a leg would be too short."""
    for _ in range(3):
        for side, sign in ((0, 1.0), (1, -1.0)):
            ankle = joints[:, Point.LEAD_ANKLE + side]
            off = ankle - pelvis - sign * across
            flat = off[:, 0] ** 2 + off[:, 2] ** 2
            most = ankle[:, 1] + np.sqrt(np.maximum((_LONGEST_LEG * player.leg) ** 2 - flat, 0.0))
            pelvis[:, 1] -= smooth(np.maximum(pelvis[:, 1] - most, 0.0), _SETTLE)
