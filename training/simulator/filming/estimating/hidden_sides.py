"""Which joints the camera sees least of, by how far from it they are."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.points import ANATOMICAL, swap_sides
from service.analysis.types import FloatArray
from training.simulator.filming.estimating.joint_errors import ARMS

_HIDDEN_BEYOND: Final[tuple[float, float]] = (0.14, 0.04)
"""Metres that a joint must lie behind its other side to count as hidden, and how sharply that
sets in (a judgement)."""

_REACH: Final[float] = 0.12
"""Metres that elbow and wrist may lie behind the middle of the trunk before that counts."""
CORNERS: Final[list[int]] = [
    ANATOMICAL.index(f"{side}_{joint}")
    for side in ("left", "right")
    for joint in ("shoulder", "hip")
]


def hidden(depth: FloatArray) -> FloatArray:
    """How far each sided point lies behind its other side, 0 to 1, shape (n_frames, n_points).

    The hands meet, so that an arm is as hidden as its shoulder and its hip at least, and so is one
    that the trunk stands before.

    Parameters
    ----------
    depth : array of shape (n_frames, n_points)
        Metres from the camera.
    """
    beyond, sharp = _HIDDEN_BEYOND
    behind = np.nan_to_num(depth - swap_sides(depth))
    trunk_depth = depth[:, CORNERS].mean(axis=1)
    for arm, side in zip(ARMS, ("left", "right"), strict=True):
        trunk = [ANATOMICAL.index(f"{side}_{joint}") for joint in ("shoulder", "hip")]
        farthest = np.maximum(behind[:, trunk[0]], behind[:, trunk[1]] + 0.5 * beyond)
        beyond_trunk = depth[:, arm[:2]].mean(axis=1) - trunk_depth - _REACH
        farthest = np.maximum(farthest, np.nan_to_num(beyond_trunk))
        behind[:, arm] = np.maximum(behind[:, arm], farthest[:, None])
    return np.asarray(1.0 / (1.0 + np.exp(-(behind - beyond) / sharp)))
