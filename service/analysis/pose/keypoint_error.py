"""How far a keypoint may be off: what its jitter shows, and what jitter can't show."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.conditioning import Conditioned
from service.analysis.pose.points import ANATOMICAL, Point
from service.analysis.types import FloatArray

ANNOTATOR_SPREAD: Final[dict[str, float]] = {
    "nose": 0.026,
    "eye": 0.025,
    "ear": 0.035,
    "shoulder": 0.079,
    "elbow": 0.072,
    "wrist": 0.062,
    "hip": 0.107,
    "knee": 0.087,
    "ankle": 0.089,
}
"""Spread of human annotators per joint as a share of the root of the person's area: the
keypoint constants of the COCO evaluation (Lin et al. 2014; values from memory)."""
_OTHER_JOINTS: Final[float] = 0.070
_CLUB: Final[float] = 0.040
_ROOT_AREA: Final[float] = 0.45
"""Root of the area of a standing person, in body heights."""
_STEADY_SHARE: Final[float] = 0.18
"""Share of that spread by which a steady estimate may still be off over one swing, once
what is common to the whole clip has cancelled out; a judgement."""


def pose_error(conditioned: Conditioned, scale: float) -> FloatArray:
    """One standard deviation of each conditioned point on one axis, in body heights.

    The residual jitter after the filter and the steady error of a pose estimator, which
    no filter shows, add as variances.

    Parameters
    ----------
    scale : float
        Body height in the unit of ``conditioned.points``.

    Returns
    -------
    array of shape (n_points,)
    """
    jitter = np.nan_to_num(conditioned.smoothed_noise) / scale
    return np.hypot(jitter, _STEADY_ERROR)


def _spread(index: int, name: str) -> float:
    if index >= Point.GRIP_END:
        return _CLUB
    return ANNOTATOR_SPREAD.get(name.split("_")[-1], _OTHER_JOINTS)


_STEADY_ERROR: Final[FloatArray] = (
    _STEADY_SHARE * _ROOT_AREA * np.array([_spread(i, n) for i, n in enumerate(ANATOMICAL)])
)
