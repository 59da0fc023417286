"""The points of a swing: body joints and club, under one fixed order.

Two namings share that order. *Anatomical* names say left and right as the player
has them and are what comes in at the door. *Canonical* names say lead and trail
(the lead side is nearer the target) and are what everything behind the door uses.
For a right-handed player the lead side is the left, so the two orders line up:
index ``i`` of :data:`ANATOMICAL` and ``Point(i)`` are the same joint of a
right-hander, and of a left-hander after :func:`swap_sides`.
"""

from __future__ import annotations

from enum import IntEnum
from functools import cache
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

_MIDDLE_OF_HEAD_AND_TRUNK = ("nose", "head", "head_top", "neck", "mid_trunk", "mid_hip")
_SIDED = (
    "eye",
    "ear",
    "shoulder",
    "elbow",
    "wrist",
    "hand",
    "hip",
    "knee",
    "ankle",
    "heel",
    "toe",
    "small_toe",
)
_CLUB = ("grip_end", "grip", "shaft_mid", "clubhead")

ANATOMICAL: Final[tuple[str, ...]] = (
    *_MIDDLE_OF_HEAD_AND_TRUNK,
    *(f"{side}_{joint}" for joint in _SIDED for side in ("left", "right")),
    *_CLUB,
)
"""Anatomical point names in array order.

``head`` is the middle of the head or face, ``neck`` the base of the neck between the
shoulders, ``hand`` the knuckle of the index finger, ``toe`` the big toe. Of the club:
``grip_end`` is the butt, ``grip`` where the hands hold it, ``clubhead`` its far end.
"""

CLUB_POINTS: Final[tuple[str, ...]] = _CLUB
N_POINTS: Final[int] = len(ANATOMICAL)


class Point(IntEnum):
    """Index of a canonical point on the point axis of every pose array."""

    NOSE = 0
    HEAD = 1
    HEAD_TOP = 2
    NECK = 3
    MID_TRUNK = 4
    MID_HIP = 5
    LEAD_EYE = 6
    TRAIL_EYE = 7
    LEAD_EAR = 8
    TRAIL_EAR = 9
    LEAD_SHOULDER = 10
    TRAIL_SHOULDER = 11
    LEAD_ELBOW = 12
    TRAIL_ELBOW = 13
    LEAD_WRIST = 14
    TRAIL_WRIST = 15
    LEAD_HAND = 16
    TRAIL_HAND = 17
    LEAD_HIP = 18
    TRAIL_HIP = 19
    LEAD_KNEE = 20
    TRAIL_KNEE = 21
    LEAD_ANKLE = 22
    TRAIL_ANKLE = 23
    LEAD_HEEL = 24
    TRAIL_HEEL = 25
    LEAD_TOE = 26
    TRAIL_TOE = 27
    LEAD_SMALL_TOE = 28
    TRAIL_SMALL_TOE = 29
    GRIP_END = 30
    GRIP = 31
    SHAFT_MID = 32
    CLUBHEAD = 33

    @property
    def label(self) -> str:
        """The point in words: ``trail heel``."""
        return self.name.lower().replace("_", " ")


_SIDE_SWAP: Final[NDArray[np.intp]] = np.array(
    [
        ANATOMICAL.index(
            name.replace("left_", "right_")
            if name.startswith("left_")
            else name.replace("right_", "left_")
        )
        for name in ANATOMICAL
    ],
    dtype=np.intp,
)


Scalar = TypeVar("Scalar", bound=np.generic)


def joint_of(point: str) -> str:
    """The name of an anatomical point without its side.

    >>> joint_of("left_knee"), joint_of("nose")
    ('knee', 'nose')
    """
    return point.removeprefix("left_").removeprefix("right_")


@cache
def both_sides(*joints: str) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Indices of some joints (``"knee"``) of the left and of the right side."""
    left = [ANATOMICAL.index(f"left_{joint}") for joint in joints]
    right = [ANATOMICAL.index(f"right_{joint}") for joint in joints]
    return np.array(left, dtype=np.intp), np.array(right, dtype=np.intp)


def swap_sides(poses: NDArray[Scalar]) -> NDArray[Scalar]:
    """Exchange left and right (or lead and trail) points.

    Parameters
    ----------
    poses : array of shape (n_frames, n_points) or (n_frames, n_points, 2)

    Returns
    -------
    array of the same shape, a copy; middle and club points keep their place.
    """
    return poses.take(_SIDE_SWAP, axis=1)
