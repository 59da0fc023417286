"""How the feet stand, lift and spin, and how high they let the hips be."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.types import FloatArray
from training.simulator.keyed.player import CLUBS, Player
from training.simulator.keyed.vectors import soft_excess, turned

_BALL_OF_FOOT: Final[float] = 0.72
_HEEL_BEHIND: Final[float] = 0.25
"""From the heel forward to the ball of the foot and to the ankle, lengths of the foot; from
memory."""
_STRAIGHTEST: Final[float] = 0.997
"""How far a leg stretches, lengths of the leg; judgement."""
_SOFT: Final[float] = 0.003
"""Over how much that sets in, statures; judgement."""


def feet_of(feet: FloatArray, player: Player) -> tuple[FloatArray, FloatArray]:
    """Ankle, heel, big and small toe of the lead and the trail foot, each of shape (n, 4, 3).

    ``feet`` is as in :class:`~training.simulator.keyed.keys.Keys`.
    """
    half = 0.5 * (CLUBS[player.club].stance + player["stance"])
    still = np.zeros(len(feet))
    return (
        _foot(player, half, player["lead_flare"], feet[:, 0], feet[:, 1], still, 1.0),
        _foot(player, -half, -player["trail_flare"], feet[:, 2], feet[:, 3], feet[:, 4], -1.0),
    )


def beyond_the_legs(
    pelvis: FloatArray, side: FloatArray, ankles: tuple[FloatArray, FloatArray], player: Player
) -> FloatArray:
    """How far the middle of the hips is too high for the legs, set in gradually, shape (n,).

    ``side`` is the unit vector from the trail to the lead hip; all of shape (n, 3), statures.
    """
    reach = _STRAIGHTEST * (player["thigh"] + player["shank"])
    high = np.zeros(len(pelvis))
    for sign, ankle in zip((1.0, -1.0), ankles, strict=True):
        hip = pelvis + 0.5 * sign * player["hip_width"] * side
        away = np.hypot(*(hip - ankle)[:, [0, 2]].T)
        most = np.sqrt(np.maximum(reach**2 - away**2, 0.01)) + ankle[:, 1]
        high = np.maximum(high, soft_excess(hip[:, 1] - most, 0.0, _SOFT))
    return high


def _foot(
    player: Player,
    ankle_x: float,
    flare: float,
    lift: FloatArray,
    spin: FloatArray,
    bank: FloatArray,
    outward: float,
) -> FloatArray:
    """Ankle, heel, big and small toe, shape (n, 4, 3).

    The foot spins and lifts its heel about the ball of the foot and banks toward the target
    about its own long axis; the toes stay down.
    """
    length, height = player["foot"], player["ankle_height"]
    behind = (_BALL_OF_FOOT - _HEEL_BEHIND) * length
    up = np.array([0.0, 1.0, 0.0])

    def heading(yaw: FloatArray | float) -> FloatArray:
        a = np.radians(np.asarray(yaw, dtype=float))
        return np.stack([np.sin(a), np.zeros_like(a), np.cos(a)], axis=-1)

    ball = np.array([ankle_x, 0.0, 0.0]) + behind * heading(flare)
    ahead = heading(flare + spin)
    aside = np.stack([ahead[:, 2], np.zeros(len(spin)), -ahead[:, 0]], axis=-1)
    back = turned(-ahead, aside, lift)
    high = turned(np.broadcast_to(up, ahead.shape), aside, lift)
    high = turned(high, ahead, -bank)
    heel = ball + _BALL_OF_FOOT * length * back
    ankle = ball + behind * back + height * high
    tip = (1.0 - _BALL_OF_FOOT) * length
    toe = ball + tip * ahead - 0.10 * outward * length * aside
    small = ball + 0.45 * tip * ahead + 0.22 * outward * length * aside
    return np.stack([ankle, heel, toe, small], axis=1)
