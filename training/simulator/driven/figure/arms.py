"""The lead arm in its plane, the club in its own, and the trail arm that closes the loop."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray
from training.simulator.body.clubs import HAND_FROM_BUTT, HANDS_APART
from training.simulator.body.vectors import bend_toward, soft_excess, turned, unit
from training.simulator.driven.figure.body import Trunk
from training.simulator.driven.player import Player

_STRAIGHTEST: Final[float] = 0.995
"""Of an arm, of the length of its bones."""
_MOST_GLIDE: Final[float] = 0.034
"""How far a shoulder follows a hand that is far away, statures; from memory."""
_SOFT: Final[float] = 0.004
"""Statures over which the end of an arm's reach and of a shoulder's sets in."""
_HAND_TURNS: Final[float] = 0.7
"""How far a hand lies toward the direction of the shaft, the forearm's counting as 1; judgement."""
_ROUNDS: Final[int] = 3
# Where elbows point in the frame of the chest: lead side, up, forward; judgement.
_LEAD_ELBOW: Final[FloatArray] = np.array([0.5, -0.6, -0.2])
_TRAIL_ELBOW: Final[FloatArray] = np.array([-0.35, -0.9, -0.15])
_LEAD_OUT: Final[FloatArray] = np.array([0.7, 0.5, 0.9])
_TRAIL_OUT: Final[FloatArray] = np.array([-0.7, 0.1, -0.3])


@dataclass(frozen=True)
class Grip:
    """Wrists and knuckles of the hands on the handle, each of shape (..., 3)."""

    wrist: FloatArray
    hand: FloatArray
    trail_wrist: FloatArray
    trail_hand: FloatArray


def swung(
    angle: FloatArray | float, plane: FloatArray | float, inside: FloatArray | float = 0.0
) -> FloatArray:
    """Directions, shape (..., 3), of what has swung back by an angle from hanging, in a plane.

    Parameters
    ----------
    angle
        Degrees: 0 hanging, 90 level and away from the target.
    plane
        Degrees by which what hangs stands out toward the ball.
    inside
        Degrees by which what is level points behind the player.

    >>> swung(90.0, 30.0).round(3).tolist()
    [-1.0, -0.0, 0.0]
    """
    a, b, c = (np.radians(np.asarray(each, dtype=float)) for each in (angle, plane, inside))
    return np.stack(
        [
            -np.sin(a) * np.cos(c),
            -np.cos(a) * np.cos(b),
            np.cos(a) * np.sin(b) - np.sin(a) * np.sin(c),
        ],
        axis=-1,
    )


def swing_of(direction: FloatArray) -> tuple[float, float]:
    """Angle and plane, degrees, of a direction of shape (3,) that hangs; undoes :func:`swung`.

    >>> [round(x, 6) for x in swing_of(swung(10.0, 30.0))]
    [10.0, 30.0]
    """
    x, y, z = direction
    return float(np.degrees(np.arcsin(-x))), float(np.degrees(np.arctan2(z, -y)))


def straightness(flexion: FloatArray | float, player: Player) -> FloatArray:
    """From shoulder to wrist of an arm whose elbow is bent by degrees, statures."""
    upper, lower = player["upper_arm"], player["forearm"]
    bent = np.cos(np.radians(np.asarray(flexion)))
    return np.asarray(np.sqrt(upper**2 + lower**2 + 2.0 * upper * lower * bent))


def flexion_at(span: float, player: Player) -> float:
    """Degrees of the elbow of an arm that spans so much; 0 where it can't."""
    upper, lower = player["upper_arm"], player["forearm"]
    cosine = (span**2 - upper**2 - lower**2) / (2.0 * upper * lower)
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def hand_beyond(
    wrist: FloatArray, arm: FloatArray, shaft: FloatArray, player: Player
) -> FloatArray:
    """Knuckles of a hand that lies between the directions of arm and shaft, (..., 3)."""
    return np.asarray(wrist + player["hand"] * unit(arm + _HAND_TURNS * shaft))


def gripped(
    lead: FloatArray, trail: FloatArray, wrist: FloatArray, shaft: FloatArray, player: Player
) -> Grip:
    """Both hands on a handle near a lead wrist, where both arms reach it as their shoulders
    :func:`glide <glided>`; all of shape (..., 3).

    ``lead`` and ``trail`` are the shoulders, ``shaft`` points to the clubhead.
    """
    apart = HANDS_APART / player.stature
    for _ in range(_ROUNDS):
        wrist = wrist - _beyond_reach(lead, wrist, player)
        hand = hand_beyond(wrist, unit(wrist - lead), shaft, player)
        other = hand + apart * shaft
        other_wrist = other - player["hand"] * unit(unit(other - trail) + _HAND_TURNS * shaft)
        wrist = wrist - _beyond_reach(trail, other_wrist, player)
    wrist = wrist - _beyond_reach(lead, wrist, player)
    hand = hand_beyond(wrist, unit(wrist - lead), shaft, player)
    other = hand + apart * shaft
    other_wrist = other - player["hand"] * unit(unit(other - trail) + _HAND_TURNS * shaft)
    return Grip(wrist, hand, other_wrist, other)


def _beyond_reach(root: FloatArray, end: FloatArray, player: Player) -> FloatArray:
    span = end - root
    length = np.linalg.norm(span, axis=-1, keepdims=True)
    beyond = soft_excess(length, _STRAIGHTEST * player.arm + _MOST_GLIDE - _SOFT, _SOFT)
    return np.asarray(beyond / length * span)


def glided(root: FloatArray, end: FloatArray, player: Player) -> FloatArray:
    """Shoulder that follows a wrist farther away than the arm is long, shape (..., 3)."""
    span = end - root
    length = np.linalg.norm(span, axis=-1, keepdims=True)
    beyond = soft_excess(length, _STRAIGHTEST * player.arm, _SOFT)
    return np.asarray(root + beyond / length * span)


def shaft_at(values: Mapping[str, FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Directions of the lead arm and of the shaft, each of shape (n, 3)."""
    arm = swung(values["arm"], values["arm_plane"], values["inside"])
    club = swung(
        values["arm"] + values["hinge"],
        values["club_plane"],
        values["inside"] + values["club_inside"],
    )
    return arm, unit(turned(club, unit(arm), values["tip"]))


def place_arms(
    joints: FloatArray, trunk: Trunk, values: Mapping[str, FloatArray], player: Player
) -> None:
    """Put shoulders, arms, hands and club into joints of shape (n, N_POINTS, 3)."""
    lead, trail = trunk.lead_shoulder, trunk.trail_shoulder
    arm, shaft = shaft_at(values)
    wanted = lead + straightness(values["elbow"], player)[:, None] * arm
    grip = gripped(lead, trail, wanted, shaft, player)
    out = values["elbow_out"][:, None]
    poles = _LEAD_ELBOW + out * _LEAD_OUT, _TRAIL_ELBOW + out * _TRAIL_OUT
    axes = np.stack([trunk.side, trunk.up, trunk.forward], axis=1)
    lead, trail = glided(lead, grip.wrist, player), glided(trail, grip.trail_wrist, player)
    ends = (grip.wrist, grip.hand), (grip.trail_wrist, grip.trail_hand)
    for k, (root, (wrist, hand)) in enumerate(zip((lead, trail), ends, strict=True)):
        joints[:, Point.LEAD_SHOULDER + k] = root
        joints[:, Point.LEAD_ELBOW + k] = bend_toward(
            root,
            wrist,
            player["upper_arm"],
            player["forearm"],
            np.einsum("nj,nji->ni", poles[k], axes),
        )
        joints[:, Point.LEAD_WRIST + k] = wrist
        joints[:, Point.LEAD_HAND + k] = hand
    butt = grip.hand - HAND_FROM_BUTT / player.stature * shaft
    head = grip.hand + player.grip_to_head * shaft
    joints[:, Point.GRIP_END], joints[:, Point.CLUBHEAD] = butt, head
    joints[:, Point.GRIP] = 0.5 * (grip.hand + grip.trail_hand)
    joints[:, Point.SHAFT_MID] = 0.5 * (butt + head)
