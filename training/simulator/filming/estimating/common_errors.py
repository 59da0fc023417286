"""What joints have in common when they err: along a limb, from side to side, through a clip.

Correlations as measured on the pairs of
:mod:`training.simulator.filming.estimating.joint_errors`, rounded.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.ndimage import convolve1d

from service.analysis.pose.points import ANATOMICAL
from service.analysis.types import FloatArray
from training.simulator.filming.estimating.joint_errors import JOINTS, NAMES

_BEFORE: Final[dict[str, str]] = {
    "hip": "shoulder",
    "elbow": "shoulder",
    "wrist": "elbow",
    "hand": "wrist",
    "knee": "hip",
    "ankle": "knee",
    "heel": "ankle",
    "toe": "ankle",
    "small_toe": "ankle",
}
_OUTWARD: Final = ("shoulder", *_BEFORE)
_ACROSS: Final[dict[str, tuple[float, float]]] = {
    "shoulder": (-0.56, 0.0),
    "hip": (-0.50, 0.35),
    "wrist": (0.40, 0.45),
}
"""Correlation of the sideways and of the upright errors of the two sides: of shoulders and hips
what one is too far out the other is too, and hands on one handle err together."""
_UPPER: Final = frozenset(
    ("nose", "head", "head_top", "neck", "eye", "ear", "shoulder", "elbow", "wrist", "hand")
)
_LOWER: Final = frozenset(("knee", "ankle", "heel", "toe", "small_toe"))
_LIMBS: Final = (
    frozenset(("nose", "left_eye", "right_eye", "left_ear", "right_ear")),
    frozenset(("left_hip", "right_hip")),
    *(
        frozenset(f"{side}_{joint}" for joint in joints)
        for side in ("left", "right")
        for joints in (("elbow", "wrist", "hand"), ("knee", "ankle", "heel", "toe", "small_toe"))
    ),
)


def shared(
    *, clip: float = 0.0, part: float = 0.0, limb: float = 0.0, turn: float = 0.0
) -> FloatArray:
    """Weights by which independent draws make one that points have in common.

    Parameters
    ----------
    clip, part, limb : float
        Shares of the variance that all points have in common, those of the upper and those of the
        lower body (hips belong to both), and those of one limb; the rest is each point's own.
    turn : float
        The share that the limbs of one side have in common and the other side's have with the
        opposite sign, as when a body turns one side toward the camera; head and hips, which have
        none, keep it for themselves.

    Returns
    -------
    array of shape (n_draws, n_points)
        ``standard_normal(n_draws) @ weights`` has a variance of one at every point.
    """
    upper = np.array([1.0 if n in _UPPER else 0.0 if n in _LOWER else 0.5 for n in NAMES])
    limbs = np.array([[float(name in each) for name in ANATOMICAL] for each in _LIMBS])
    side = np.array([n.startswith("left") * 1.0 - n.startswith("right") for n in ANATOMICAL])
    side *= limbs[2:].any(axis=0)
    rows = np.vstack(
        [
            np.full((1, len(NAMES)), np.sqrt(clip)),
            np.sqrt(part * np.array([upper, 1.0 - upper])),
            np.sqrt(limb + turn * (1.0 - np.abs(side))) * limbs,
            np.sqrt(turn) * side[None],
        ]
    )
    own = np.sqrt(np.maximum(1.0 - (rows**2).sum(axis=0), 0.0))
    return np.vstack([rows, np.diag(own)])


def linked(errors: FloatArray) -> FloatArray:
    """Unit errors of shape (n_frames, n_points, 2) made to follow one another along the limbs, and
    from side to side."""
    errors = errors.copy()
    for joint in _OUTWARD:
        left, right = (ANATOMICAL.index(f"{side}_{joint}") for side in ("left", "right"))
        if joint in _BEFORE:
            for here, side in ((left, "left"), (right, "right")):
                there = ANATOMICAL.index(f"{side}_{_BEFORE[joint]}")
                _follow(errors, here, there, np.array(JOINTS[joint].follows))
        if joint in _ACROSS:
            _follow(errors, right, left, np.array(_ACROSS[joint]))
    return errors


def _follow(errors: FloatArray, here: int, there: int, share: FloatArray) -> None:
    errors[:, here] *= np.sqrt(1.0 - share**2)
    errors[:, here] += share * errors[:, there]


def wander(
    shape: tuple[int, ...], times: FloatArray, memory: float, rng: np.random.Generator
) -> FloatArray:
    """Smooth unit noise, frames first, whose autocorrelation is 1/e after ``memory`` seconds."""
    step = (times[-1] - times[0]) / max(times.size - 1, 1)
    width = 0.5 * memory / max(step, 1e-6)
    reach = int(np.ceil(4.0 * width))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / width) ** 2)
    kernel /= np.sqrt((kernel**2).sum())
    shocks = rng.standard_normal((shape[0] + 2 * reach, *shape[1:]))
    return np.asarray(convolve1d(shocks, kernel, axis=0)[reach : reach + shape[0]])
