"""Segment lengths of a body of a given stature."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from service.analysis.types import FloatArray


class Sex(StrEnum):
    """Body build, as far as segment proportions differ."""

    MALE = "male"
    FEMALE = "female"


# Fractions of stature after [drillis1966] as given in [winter]; from memory.
_UPPER_ARM, _FOREARM, _HAND = 0.186, 0.146, 0.108
_THIGH, _SHANK, _ANKLE_HEIGHT, _FOOT = 0.245, 0.246, 0.039, 0.152
_SHOULDERS, _HIPS = 0.259, 0.191
_SHOULDER_HEIGHT, _HIP_HEIGHT = 0.818, 0.530

# Joint centres lie inside the outlines those breadths were taken at; from memory.
_SHOULDER_JOINTS, _HIP_JOINTS = 0.83, 0.57
_BREADTHS = {Sex.MALE: (1.0, 1.0), Sex.FEMALE: (0.94, 1.04)}


@dataclass(frozen=True)
class Body:
    """Lengths in metres.

    ``shoulders`` and ``hips`` are the distances between the two joint centres,
    ``hand`` runs from the wrist to the knuckle of the index finger, ``lower_spine``
    from the middle of the hips to the middle of the trunk and ``upper_spine`` from
    there to the base of the neck. ``head`` holds nose, top, eyes and ears about
    the middle of the head, shape (6, 3): x to the lead side, y up, z forward.
    """

    stature: float
    upper_arm: float
    forearm: float
    hand: float
    thigh: float
    shank: float
    ankle_height: float
    foot: float
    shoulders: float
    hips: float
    lower_spine: float
    upper_spine: float
    shoulder_drop: float
    neck: float
    head: FloatArray

    @property
    def arm(self) -> float:
        """Length of the straight arm, shoulder to wrist."""
        return self.upper_arm + self.forearm

    @property
    def leg(self) -> float:
        """Length of the straight leg, hip to ankle."""
        return self.thigh + self.shank


# Rows: nose, top, lead eye, trail eye, lead ear, trail ear; from memory.
_HEAD_POINTS = np.array(
    [
        [0.0, -0.012, 0.060],
        [0.0, 0.068, 0.0],
        [0.018, 0.008, 0.050],
        [-0.018, 0.008, 0.050],
        [0.042, 0.0, 0.0],
        [-0.042, 0.0, 0.0],
    ]
)


def body_of(stature: float, sex: Sex) -> Body:
    """Body of a stature in metres.

    References
    ----------
    [drillis1966] as given in [winter] (from memory).
    """
    shoulder_breadth, hip_breadth = _BREADTHS[sex]
    spine = _SHOULDER_HEIGHT - _HIP_HEIGHT + 0.02
    return Body(
        stature=stature,
        upper_arm=_UPPER_ARM * stature,
        forearm=_FOREARM * stature,
        hand=0.45 * _HAND * stature,
        thigh=_THIGH * stature,
        shank=_SHANK * stature,
        ankle_height=_ANKLE_HEIGHT * stature,
        foot=_FOOT * stature,
        shoulders=_SHOULDER_JOINTS * _SHOULDERS * shoulder_breadth * stature,
        hips=_HIP_JOINTS * _HIPS * hip_breadth * stature,
        lower_spine=0.45 * spine * stature,
        upper_spine=0.55 * spine * stature,
        shoulder_drop=0.02 * stature,
        neck=0.09 * stature,
        head=_HEAD_POINTS * stature,
    )
