"""How tall the player is, in the unit of the points, told by whatever limbs are seen.

References
----------
D. A. Winter, *Biomechanics and Motor Control of Human Movement* (segment lengths after
Drillis and Contini, 1966). Figures from memory.
"""

from __future__ import annotations

from math import isfinite
from typing import Final

import numpy as np

from service.analysis.pose.geometry import squared_length
from service.analysis.pose.points import both_sides
from service.analysis.pose.rows import row_quantile
from service.analysis.types import FloatArray

_SEGMENTS: Final = (
    ("hip", "knee"),
    ("knee", "ankle"),
    ("shoulder", "hip"),
    ("shoulder", "elbow"),
    ("elbow", "wrist"),
)
"""Of leg, trunk and arm in turn, which begin at the places of :data:`_LIMBS`."""
_LIMBS: Final = np.array([0, 2, 3])
_LENGTHS: Final = np.array([0.245 + 0.246, 0.288, 0.186 + 0.146])
"""Of the limbs in body heights: hip to ankle, shoulder to hip, shoulder to wrist."""
_STARTS, _ENDS = np.array([both_sides(*segment) for segment in _SEGMENTS]).reshape(-1, 2).T
"""Points at the ends of each segment, first of the left side and then of the right."""
_WEIGHTS: Final = (3.0, 2.0, 1.0)
"""Legs are seen at full length most, arms least (judgement)."""
_LONG: Final = 0.9
"""Quantile over the frames: a segment looks short whenever it points at the camera."""
_LONG_DESPITE_NOISE: Final = 0.7
"""The same where lengths are noisy, which the long ones are by luck: on simulated clips of five
makes, filmed from either side, 0.9 makes players 3 to 8 % too tall and this at most 2 %."""


def stature(points: FloatArray, approximate: float) -> float:
    """The player's stature as measures need it: not the taller, the noisier the points.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Conditioned.
    approximate : float
        What to say when no limb is left to be measured.
    """
    tall = body_height(points, _LONG_DESPITE_NOISE)
    return tall if np.isfinite(tall) and tall > 0.0 else approximate


def body_height(points: FloatArray, quantile: float = _LONG) -> float:
    """The player's stature from whatever limbs are there.

    Legs count more than the trunk and the trunk more than the arms. An estimate for
    setting thresholds, good to a tenth or so: no view shows every segment at its length.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        In the order of :data:`service.analysis.pose.points.ANATOMICAL`; NaN where missing.
    quantile : float
        Of each segment's length over the frames, as a segment looks short when it points at the
        camera.

    Returns
    -------
    float
        In the unit of ``points``; NaN when no limb can be measured.
    """
    paths = np.ascontiguousarray(points.T)  # and `take`: far faster than the same with brackets
    segments = _segments(paths.take(_ENDS, axis=1) - paths.take(_STARTS, axis=1), quantile)
    limbs = np.add.reduceat(segments, _LIMBS, axis=0) / _LENGTHS[:, None]
    weighed, weights = 0.0, 0.0
    for sides, weight in zip(limbs.tolist(), _WEIGHTS, strict=True):
        seen = [side for side in sides if isfinite(side)]
        if seen:
            weighed += weight * sum(seen) / len(seen)
            weights += weight
    return weighed / weights if weights else float("nan")


def _segments(vectors: FloatArray, quantile: float) -> FloatArray:
    """Long lengths over the frames, NaN where never seen.

    Parameters
    ----------
    vectors : array of shape (2, n_segments * 2 sides, n_frames)

    Returns
    -------
    array of shape (n_segments, 2 sides)
    """
    return np.sqrt(row_quantile(squared_length(vectors), quantile)).reshape(-1, 2)
