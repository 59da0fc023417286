"""Where arms and club are at address, and where they must be at impact to meet the ball again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import FloatArray
from training.simulator.body.clubs import SETUPS
from training.simulator.body.vectors import unit
from training.simulator.driven.figure.arms import (
    flexion_at,
    gripped,
    hand_beyond,
    place_arms,
    straightness,
    swing_of,
)
from training.simulator.driven.figure.body import Trunk, feet_at, place_body, trunk_at
from training.simulator.driven.player import Player

_HEAD_HEIGHT: Final[float] = 0.012
"""Of the middle of the clubhead that lies on the ground, statures."""
_ROUNDS: Final[int] = 4
_MOST_RAISED: Final[float] = 0.012
"""By how much the body comes up so that a bent lead arm straightens at impact, statures."""
_STEEPEST: Final[float] = 0.97
"""Of the length of a club, how high over its head the hands may be."""


@dataclass(frozen=True)
class Contact:
    """Arm and club at address or impact.

    Attributes
    ----------
    arm, arm_plane, club, club_plane : float
        Angle and plane of the lead arm and of the shaft, degrees, as
        :func:`~training.simulator.driven.figure.arms.swung` takes them.
    elbow : float
        Bend of the lead elbow, degrees.
    hand, ball : arrays of shape (3,)
        Knuckles of the lead hand and middle of the clubhead, statures.
    give : array of shape (3,)
        By how much the pelvis shifts so that the arm is as long as it should be, statures.
    """

    arm: float
    arm_plane: float
    club: float
    club_plane: float
    elbow: float
    hand: FloatArray
    ball: FloatArray
    give: FloatArray

    def values(self) -> dict[str, FloatArray]:
        """The same as values at one moment."""
        named = {
            "arm": self.arm,
            "arm_plane": self.arm_plane,
            "hinge": self.club - self.arm,
            "club_plane": self.club_plane,
            "elbow": self.elbow,
        }
        return {name: np.array([value]) for name, value in named.items()}


_NO_GIVE: Final[FloatArray] = np.zeros(3)
_STRAIGHT_DOWN: Final[Mapping[str, FloatArray]] = {
    name: np.zeros(1) for name in ("inside", "club_inside", "tip", "elbow_out")
}
"""Of arms and a club that swing along the target line."""


def joints_of(values: Mapping[str, FloatArray], player: Player) -> FloatArray:
    """Joints of shape (n, N_POINTS, 3), statures, from values of shape (n,) by name."""
    joints = np.full((len(values["arm"]), N_POINTS, 3), np.nan)
    feet = feet_at(values, player)
    trunk = trunk_at(values, feet, player)
    place_body(joints, trunk, feet, values, player)
    place_arms(joints, trunk, values, player)
    return joints


def address(body: Mapping[str, FloatArray], player: Player) -> Contact:
    """Hands and club of a body, one moment's values, that stands at the ball."""
    setup = SETUPS[player.club]
    at_x = setup.ball + setup.lean / player.stature + player["lean"]
    ball = np.array([setup.ball, _HEAD_HEIGHT, 0.0])
    trunk = _trunk(body, feet_at(body, player), 0.0, _NO_GIVE, player)
    lead, trail = trunk.lead_shoulder[0], trunk.trail_shoulder[0]
    reach = float(straightness(player["elbow_address"], player))
    aside = (at_x - lead[0]) / reach
    hang = np.radians(player["hang"])
    down = np.sqrt(1.0 - aside**2)
    wanted = lead + reach * np.array([aside, -down * np.cos(hang), down * np.sin(hang)])
    shaft = unit(np.array([0.0, -0.8, 0.6]))
    hold = gripped(lead, trail, wanted, shaft, player)
    for _ in range(_ROUNDS):
        shaft = _shaft_to(ball, hold.hand, player)
        hold = gripped(lead, trail, wanted, shaft, player)
    return _contact(lead, hold.wrist, hold.hand, shaft, _NO_GIVE, player)


def impact(body: Mapping[str, FloatArray], start: Contact, rise: float, player: Player) -> Contact:
    """Hands and club that meet the ball of an address.

    Parameters
    ----------
    body
        Values of the body at impact.
    rise
        By how much higher than at address the hands are, statures.
    """
    hand = _hands_at_impact(start, rise, player)
    give = _NO_GIVE.copy()
    found = start
    feet = feet_at(body, player)
    for _ in range(_ROUNDS):
        trunk = _trunk(body, feet, found.arm, give, player)
        lead = trunk.lead_shoulder[0]
        shaft = unit(start.ball - hand)
        arm = unit(hand - lead)
        wrist = hand - (hand_beyond(hand, arm, shaft, player) - hand)
        span = wrist - lead
        miss = np.linalg.norm(span) - straightness(player["elbow_impact"], player)
        give = give + miss * unit(span)
        give[1] = min(give[1], _MOST_RAISED)
        found = _contact(lead, wrist, hand, shaft, give, player)
    for _ in range(_ROUNDS):
        joints = np.full((1, N_POINTS, 3), np.nan)
        trunk = _trunk(body, feet, found.arm, give, player)
        place_arms(joints, trunk, {**_STRAIGHT_DOWN, **found.values()}, player)
        give = give + (start.ball - joints[0, Point.CLUBHEAD])
    return Contact(**{**vars(found), "give": give})


def _hands_at_impact(start: Contact, rise: float, player: Player) -> FloatArray:
    """Knuckles of the lead hand at impact, shape (3,): ahead of the ball, and so far from it as the
    club is long."""
    long = player.grip_to_head
    ahead = player["hands_ahead"] + 0.4 * SETUPS[player.club].lean / player.stature
    up = min(start.hand[1] + rise - start.ball[1], _STEEPEST * long)
    away = np.sqrt(max(long**2 - ahead**2 - up**2, 0.0))
    return np.asarray(start.ball + np.array([ahead, up, -away]))


def _trunk(
    body: Mapping[str, FloatArray], feet: FloatArray, arm: float, give: FloatArray, player: Player
) -> Trunk:
    values = {**body, "arm": np.array([arm])}
    for k, name in enumerate(("pelvis_x", "pelvis_y", "pelvis_z")):
        values[name] = body[name] + give[k]
    return trunk_at(values, feet, player)


def _shaft_to(ball: FloatArray, hand: FloatArray, player: Player) -> FloatArray:
    """Direction of a shaft from a hand to a ball that lies as far out as the club is long."""
    x, y = (ball[:2] - hand[:2]) / player.grip_to_head
    return unit(np.array([x, y, np.sqrt(max(1.0 - x**2 - y**2, 0.05))]))


def _contact(
    lead: FloatArray,
    wrist: FloatArray,
    hand: FloatArray,
    shaft: FloatArray,
    give: FloatArray,
    player: Player,
) -> Contact:
    arm, arm_plane = swing_of(unit(wrist - lead))
    club, club_plane = swing_of(shaft)
    elbow = flexion_at(float(np.linalg.norm(wrist - lead)), player)
    head = hand + player.grip_to_head * shaft
    return Contact(arm, arm_plane, club, club_plane, elbow, hand, head, give)
