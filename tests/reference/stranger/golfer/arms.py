"""Hands on one handle, the club that comes back to the ground, and elbows between."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray
from tests.reference.stranger.golfer.clock import Clock
from tests.reference.stranger.golfer.keys import Keys
from tests.reference.stranger.golfer.player import Player
from tests.reference.stranger.vectors import joint_between, smooth, unit

BETWEEN: Final = 0.046
"""Statures from lead to trail wrist along the handle; judgement."""
_HAND: Final = 0.045
"""Statures from wrist to knuckle; judgement."""
_GRIP_PAST_WRIST: Final = 0.025
"""Statures from the wrists to the handle, along the forearm; judgement."""
_BUTT: Final = 0.1
"""Metres of the club above the middle of the hands; common practice."""
_CLUBHEAD_HIGH: Final = 0.012
"""Statures at which the clubhead's middle is above the ground at address; judgement."""
# Shares of their length to which trail and lead arm stretch, and statures by which a reaching trail
# shoulder gives, half of it in space; judgements.
_LONGEST_TRAIL, _LONGEST_LEAD = 0.985, 0.998
_GIVE: Final = 0.012
_SETTLE: Final = 0.006
"""Seconds over which the hands are smoothed after they were brought into reach."""
_AT_ADDRESS: Final = 0.1
"""Seconds before the takeaway at which the club's length is told from the ground."""
_ROUNDS: Final = 3
_REACHES: Final = 6
_TO_TARGET: Final = np.array([1.0, 0.0, 0.0])


@dataclass(frozen=True)
class Handle:
    """Both hands and the club, arrays of shape (n, 3), statures: the lead wrist, the trail shoulder
    as it gives, and the shaft's direction; ``length`` from the middle of the hands to the
    clubhead."""

    wrist: FloatArray
    trail_shoulder: FloatArray
    shaft: FloatArray
    length: float


def in_plane(swing: FloatArray, lift: FloatArray, slope: float) -> FloatArray:
    """Directions (n, 3) in a plane along the target line, rising from ball to player.

    Parameters
    ----------
    swing, lift : arrays of shape (n,)
        Degrees in the plane, from straight down it, away from the target; out of it, upward.
    slope
        Of the plane against the ground, degrees.
    """
    angle, out, tilt = np.radians(swing), np.radians(lift), np.radians(slope)
    down = np.array([0.0, -np.sin(tilt), np.cos(tilt)])
    square = np.array([0.0, np.cos(tilt), np.sin(tilt)])
    within = np.cos(angle)[:, None] * down - np.sin(angle)[:, None] * _TO_TARGET
    return unit(np.cos(out)[:, None] * within + np.sin(out)[:, None] * square)


def swing_arms(
    joints: FloatArray,
    player: Player,
    keys: Keys,
    clock: Clock,
    axes: tuple[FloatArray, FloatArray],
    recoil: tuple[float, float],
) -> None:
    """Place arms and club on joints of shape (n, N_POINTS, 3), statures, that have shoulders.

    Parameters
    ----------
    axes
        Sideways and forward unit vectors of the chest, (n, 3) each.
    recoil
        Degrees by which the lead arm comes back down and stretches after the finish.
    """
    handle = _handle(joints, player, keys, clock, recoil)
    shaft = handle.shaft
    joints[:, Point.TRAIL_SHOULDER] = handle.trail_shoulder
    joints[:, Point.LEAD_WRIST] = handle.wrist
    joints[:, Point.TRAIL_WRIST] = handle.wrist + BETWEEN * shaft
    for side, way in enumerate(_elbows_point_to(keys, clock, axes)):
        shoulder, wrist = joints[:, Point.LEAD_SHOULDER + side], joints[:, Point.LEAD_WRIST + side]
        elbow = joint_between((shoulder, wrist), (player.upper_arm, player.forearm), way)
        joints[:, Point.LEAD_ELBOW + side] = elbow
        joints[:, Point.LEAD_HAND + side] = wrist + _HAND * unit(wrist - elbow)
    forearm = unit(handle.wrist - joints[:, Point.LEAD_ELBOW])
    grip = handle.wrist + 0.5 * BETWEEN * shaft + _GRIP_PAST_WRIST * forearm
    joints[:, Point.GRIP] = grip
    joints[:, Point.GRIP_END] = grip - _BUTT / player.stature * shaft
    joints[:, Point.CLUBHEAD] = grip + handle.length * shaft
    joints[:, Point.SHAFT_MID] = 0.5 * (joints[:, Point.GRIP] + joints[:, Point.CLUBHEAD])


def _handle(
    joints: FloatArray,
    player: Player,
    keys: Keys,
    clock: Clock,
    recoil: tuple[float, float],
) -> Handle:
    """Hands where the keys put the lead arm, as far as both arms reach; a club so long, and so
    turned at impact, that its head is on the ground at address and there again."""
    wanted = _wanted(joints[:, Point.LEAD_SHOULDER], player, keys, clock, recoil)
    length = (player.club.length - _BUTT) / player.stature
    lift = keys.club_lift.copy()
    address = clock.sample(clock.keys[0] - _AT_ADDRESS)
    impact = clock.sample(clock.keys[6])
    lie = np.radians(player.lie)
    for round_ in range(_ROUNDS):
        shaft = in_plane(clock.curve(keys.club_swing), clock.curve(lift), player.lie)
        wrist, shoulder = _in_reach(joints, wanted, shaft, player)
        along = _GRIP_PAST_WRIST * unit(wrist - joints[:, Point.LEAD_SHOULDER])
        high = (wrist + 0.5 * BETWEEN * shaft + along + length * shaft)[:, 1]
        length += float((high[address] - _CLUBHEAD_HIGH) / np.sin(lie))
        if round_ > 0:
            lift[6] -= np.degrees((high[impact] - high[address]) / (length * np.cos(lie)))
    return Handle(smooth(wrist, _SETTLE), smooth(shoulder, _SETTLE), shaft, length)


def _wanted(
    shoulder: FloatArray, player: Player, keys: Keys, clock: Clock, recoil: tuple[float, float]
) -> FloatArray:
    """The lead wrist as the keys put it, (n, 3)."""
    swing = clock.curve(keys.arm_swing, recoil=recoil[0])
    way = in_plane(swing, clock.curve(keys.arm_lift), player.arm_plane)
    bend = np.radians(np.maximum(clock.curve(keys.elbow_bend, recoil=-recoil[1]), 2.0))
    upper, fore = player.upper_arm, player.forearm
    reach = np.sqrt(upper**2 + fore**2 + 2.0 * upper * fore * np.cos(bend))
    return np.asarray(shoulder + reach[:, None] * way)


def _in_reach(
    joints: FloatArray, wrist: FloatArray, shaft: FloatArray, player: Player
) -> tuple[FloatArray, FloatArray]:
    """The lead wrist where both arms reach the handle, and the trail shoulder, which gives a
    little."""
    lead, trail = joints[:, Point.LEAD_SHOULDER], joints[:, Point.TRAIL_SHOULDER]
    for _ in range(_REACHES):
        way = wrist + BETWEEN * shaft - trail
        over = np.linalg.norm(way, axis=-1) - _LONGEST_TRAIL * player.arm
        over = np.maximum(over, 0.0)[:, None]
        give = 0.5 * np.minimum(over, _GIVE)
        trail = trail + give * unit(way)
        wrist = wrist - (over - give) * unit(way)
        way = wrist - lead
        over = np.linalg.norm(way, axis=-1) - _LONGEST_LEAD * player.arm
        wrist = wrist - np.maximum(over, 0.0)[:, None] * unit(way)
    return wrist, trail


def _elbows_point_to(
    keys: Keys, clock: Clock, axes: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Where lead and trail elbow point to, (n, 3) each: down, a little apart and back, and out to
    the sides by what is keyed; judgements."""
    side, forward = axes
    down = np.array([0.0, -1.0, 0.0])
    lead_out, trail_out = clock.curve(keys.elbow_out), clock.curve(keys.trail_elbow_out)
    lead = down + 0.25 * side - 0.25 * forward
    trail = down - 0.2 * side - 0.2 * forward
    return (
        lead + lead_out[:, None] * (1.3 * side + np.array([0.6, 0.5, 0.0])),
        trail + trail_out[:, None] * (np.array([-0.3, 0.3, 0.0]) - 1.5 * side),
    )
