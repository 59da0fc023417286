"""The key poses: body and club at each of P1 to P10, and by how much players differ.

Angles in degrees, lengths in statures. Turns are about the spine, away from the target above 0;
bends and tilts are of the trunk; x is to the target, y up, z from the player to the ball. The
means are from memory of what is commonly measured of golfers (pelvis 40 to 50 and chest 85 to 100
degrees turned at the top; at impact 35 to 45 and 25 to 35 degrees open); spreads are judgements.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Final

import numpy as np

from service.analysis.types import FloatArray

_FARTHEST: Final = 2.2
"""Standard deviations by which a player differs from the mean at most; judgement."""
_ALIKE: Final = 0.8
"""Correlation of what is usual of a player from one position to the next; judgement."""
_FLEXIBLE: Final = 0.7
"""Spread of how flexible players are, in units of :data:`FLEXIBILITY`; judgement."""
_LEAST_ELBOW: Final = 3.0
_MOST_ELBOW_P8: Final = 20.0
"""Degrees that the lead elbow is bent at least, and at P8 at most, without a fault; judgements."""
_LEAST_TURNED_P9: Final = -68.0
"""Degrees by which a chest that nothing holds back has turned through at P9; judgement."""


@dataclass
class Keys:
    """One value at each of P1 to P10 of everything that is keyed, arrays of shape (10,).

    Attributes
    ----------
    bend, side
        Forward bend of the trunk (at P1 that at address, afterwards what is added to it) and tilt
        away from the target.
    pelvis_turn, chest_turn, head_turn
        Turns away from the target.
    pelvis_x, pelvis_y, pelvis_z
        Travel of the pelvis.
    arm_swing, arm_lift, elbow_bend
        The lead arm in its plane, from hanging down, away from the target; out of that plane,
        upward; bend of the lead elbow.
    club_swing, club_lift
        The same of the club in the plane of its lie.
    heel, heel_out, lead_heel
        Trail foot's pitch about its toe and its turn, toward the ball; lead foot's pitch.
    knee_in, knee_out, elbow_out, trail_elbow_out
        Where joints point besides their usual way: the trail knee to the target and to the ball,
        the elbows away from one another.
    """

    bend: FloatArray
    side: FloatArray
    pelvis_turn: FloatArray
    chest_turn: FloatArray
    head_turn: FloatArray
    pelvis_x: FloatArray
    pelvis_y: FloatArray
    pelvis_z: FloatArray
    arm_swing: FloatArray
    arm_lift: FloatArray
    elbow_bend: FloatArray
    club_swing: FloatArray
    club_lift: FloatArray
    heel: FloatArray
    heel_out: FloatArray
    lead_heel: FloatArray
    knee_in: FloatArray
    knee_out: FloatArray
    elbow_out: FloatArray
    trail_elbow_out: FloatArray

    def add(self, change: Mapping[str, Mapping[int, float]], amount: float) -> None:
        """Add so much of a change: by name, by number of the position."""
        for name, by_position in change.items():
            for position, value in by_position.items():
                getattr(self, name)[position - 1] += amount * value


# At P1 to P10: means, and below them standard deviations.
_USUAL: Final = {
    "bend": ((0, 0, -1, -3, 0, -0.5, -3, -7, -13, -33), (0, 0, 1, 3, 2, 2, 3, 3, 3, 5)),
    "side": ((6, 6, 5, 3, 4, 8, 12, 17, 18, 6), (2, 2, 2, 2.5, 2, 2.5, 3, 3, 4, 5)),
    "pelvis_turn": ((0, 9, 27, 44, 15, -8, -38, -52, -68, -97), (0, 2, 5, 7, 4, 3, 7, 7, 7, 7)),
    "chest_turn": ((0, 25, 65, 85, 53, 17, -27, -47, -79, -112), (0, 3, 6, 6, 5, 4, 7, 7, 7, 8)),
    "head_turn": ((0, 4, 9, 16, 10, 6, 3, -12, -46, -85), (0, 2, 4, 7, 5, 4, 4, 6, 9, 5)),
    "arm_swing": ((12, 42, 89, 131, 86, 38, 3, -48, -68, -165), (2.5, 4, 1, 8, 2, 5, 3, 4, 4, 9)),
    "arm_lift": ((0, 3, -3, -5, -10, 4, 3.5, 6, 8, 5), (0, 3, 4, 6, 4, 3, 2, 4, 5, 8)),
    "elbow_bend": ((9, 8, 7, 14, 9, 7, 8, 12, 22, 105), (4, 1, 4, 7, 5, 4, 4, 5, 7, 10)),
    "club_swing": (
        (4, 90, 165, 240, 181, 92, 3, -90, -150, -285),
        (3, 0, 8, 10, 8, 0, 2.5, 0, 9, 15),
    ),
    "club_lift": ((0, 2, 2, -6, -27, -8, 2, 2, 3, -15), (0, 5, 6, 7, 7, 4, 2, 4, 6, 10)),
    "heel": ((0, 0, 0, 0, 2, 3.5, 7, 18, 38, 66), (0, 0, 0, 0, 1.5, 2, 3, 5, 6, 6)),
    "heel_out": ((0, 0, 0, 0, 0, -1, 0, 4, 12, 35), (0, 0, 0, 0, 0, 0, 2, 2, 3, 5)),
    "lead_heel": ((0, 0, 1, 3, 1, 0, 0, 0, 0, 0), (0, 0, 1, 3, 1, 0, 0, 0, 0, 0)),
    "knee_in": ((0, 0, 0, 0, 0.3, 0.7, 0.9, 1, 1, 1), (0, 0, 0, 0, 0.1, 0.2, 0.2, 0.2, 0.2, 0.2)),
    "knee_out": ((0,) * 10, (0,) * 10),
    "elbow_out": ((0, 0, 0, 0, 0, 0, 0.1, 0.25, 0.3, 0), (0,) * 10),
    "trail_elbow_out": ((0,) * 10, (0,) * 10),
}
# The same of the pelvis' travel, in percent of stature.
_TRAVEL: Final = {
    "pelvis_x": (
        (0, -0.3, -1, -1, 1, 2.7, 3.8, 4.6, 5.6, 8),
        (0, 0.4, 0.8, 1.2, 1, 0.9, 1.1, 1.1, 1.1, 1.5),
    ),
    "pelvis_y": (
        (0, 0, -0.3, 0, -1, -0.8, 0.8, 1.6, 2.4, 3),
        (0, 0, 0, 0.5, 0.4, 0.4, 0.7, 0.7, 0.7, 0.5),
    ),
    "pelvis_z": (
        (0, 0, -0.3, -0.5, -0.8, -0.5, 0.2, 0.5, 1.5, 4.5),
        (0, 0, 0.5, 0.8, 0.8, 0.8, 0.9, 0.9, 0.9, 1),
    ),
}
FLEXIBILITY: Final[Mapping[str, Mapping[int, float]]] = MappingProxyType(
    {"pelvis_turn": {3: 3, 4: 5}, "chest_turn": {3: 5, 4: 6}, "arm_swing": {4: 6}}
)
"""What a flexible player turns further, degrees; judgement."""


def random_keys(rng: np.random.Generator) -> Keys:
    """Key poses of one player without a fault."""
    drawn = {
        name: np.array(mean) + np.array(spread) * _differing(rng)
        for name, (mean, spread) in _USUAL.items()
    }
    drawn |= {
        name: 0.01 * (np.array(mean) + np.array(spread) * _differing(rng))
        for name, (mean, spread) in _TRAVEL.items()
    }
    keys = Keys(**{field.name: drawn[field.name] for field in fields(Keys)})
    keys.add(FLEXIBILITY, _FLEXIBLE * _differing(rng)[0])
    keys.elbow_bend = np.maximum(keys.elbow_bend, _LEAST_ELBOW)
    keys.elbow_bend[7] = min(keys.elbow_bend[7], _MOST_ELBOW_P8)
    keys.chest_turn[8] = min(keys.chest_turn[8], _LEAST_TURNED_P9)
    keys.heel, keys.lead_heel = np.maximum(keys.heel, 0.0), np.maximum(keys.lead_heel, 0.0)
    return keys


def _differing(rng: np.random.Generator) -> FloatArray:
    """How a player differs from the mean at P1 to P10, in standard deviations."""
    fresh = np.sqrt(1.0 - _ALIKE**2) * rng.standard_normal(10)
    drawn = np.empty(10)
    drawn[0] = rng.standard_normal()
    for k in range(1, 10):
        drawn[k] = _ALIKE * drawn[k - 1] + fresh[k]
    return np.clip(drawn, -_FARTHEST, _FARTHEST)
