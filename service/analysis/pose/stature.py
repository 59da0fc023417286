"""How tall the player is, in the unit of the points, told by whatever limbs are seen.

References
----------
D. A. Winter, *Biomechanics and Motor Control of Human Movement* (segment lengths after
Drillis and Contini, 1966). Figures from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, pairwise
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
_BOTH_ENDS: Final = np.array([both_sides(*segment) for segment in _SEGMENTS]).reshape(-1, 2)
_JOINTS: Final = np.unique(_BOTH_ENDS)
_STARTS, _ENDS = _JOINTS.searchsorted(_BOTH_ENDS).T
"""Which of these joints are at the ends of each segment, first of the left side and then of the
right."""
_WEIGHTS: Final = (3.0, 2.0, 1.0)
"""Legs are seen at full length most, arms least (judgement)."""
_LONG: Final = 0.9
"""Quantile over the frames: a segment looks short whenever it points at the camera."""
_LONG_DESPITE_NOISE: Final = 0.7
"""The same where lengths are noisy, which the long ones are by luck: on simulated clips of five
makes, filmed from either side, 0.9 makes players 3 to 8 % too tall and this at most 2 %."""


def statures(clips: Sequence[FloatArray], approximate: Sequence[float]) -> list[float]:
    """Players' statures as measures need them: not the taller, the noisier the points.

    Parameters
    ----------
    clips : of each its points, shape (n_frames, n_points, 2)
        Conditioned.
    approximate : of each what to say when no limb is left to be measured
    """
    told = zip(body_heights(clips, _LONG_DESPITE_NOISE), approximate, strict=True)
    return [tall if isfinite(tall) and tall > 0.0 else about for tall, about in told]


def body_height(points: FloatArray) -> float:
    """What :func:`body_heights` tells of one clip."""
    return body_heights((points,))[0]


def body_heights(clips: Sequence[FloatArray], quantile: float = _LONG) -> list[float]:
    """Players' statures from whatever limbs are there.

    Legs count more than the trunk and the trunk more than the arms. An estimate for
    setting thresholds, good to a tenth or so: no view shows every segment at its length.

    Parameters
    ----------
    clips : of each its points, shape (n_frames, n_points, 2)
        In the order of :data:`service.analysis.pose.points.ANATOMICAL`; NaN where missing.
    quantile : float
        Of each segment's length over the frames, as a segment looks short when it points at the
        camera.

    Returns
    -------
    list of float
        In the unit of the points; NaN when no limb can be measured.
    """
    if not clips:
        return []
    segments = _segments(clips, quantile)
    limbs = np.add.reduceat(segments, _LIMBS, axis=1) / _LENGTHS[:, None]
    return [_weighed(own) for own in limbs.tolist()]


def _weighed(limbs: list[list[float]]) -> float:
    """Mean of what each limb tells of either side."""
    weighed, weights = 0.0, 0.0
    for sides, weight in zip(limbs, _WEIGHTS, strict=True):
        seen = [side for side in sides if isfinite(side)]
        if seen:
            weighed += weight * sum(seen) / len(seen)
            weights += weight
    return weighed / weights if weights else float("nan")


def _segments(clips: Sequence[FloatArray], quantile: float) -> FloatArray:
    """Long lengths over the frames of each clip, shape (n_clips, n_segments, 2 sides); NaN where
    never seen."""
    joints = np.concatenate([points.take(_JOINTS, axis=1) for points in clips])
    paths = np.ascontiguousarray(joints.T)  # and `take`: far faster than the same with brackets
    squared = squared_length(paths.take(_ENDS, axis=1) - paths.take(_STARTS, axis=1))
    spans = pairwise(accumulate(map(len, clips), initial=0))
    long = [row_quantile(squared[:, a:b], quantile) for a, b in spans]
    return np.sqrt(np.array(long)).reshape(len(clips), -1, 2)
