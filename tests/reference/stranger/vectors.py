"""Vectors, joints between two ends, and smooth curves through keys."""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d
from scipy.spatial.transform import Rotation

from service.analysis.types import FloatArray

RATE: Final = 500.0
"""Samples a second of a swing."""
LONGEST: Final = 0.9995
"""Share of two segments' length to which a joint between them stretches."""
_STILL: Final = 10.0
"""Seconds before the first and after the last key in which a curve is level."""


def unit(vectors: FloatArray) -> FloatArray:
    """Vectors of shape (..., 3) made one long."""
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    return np.asarray(vectors / np.maximum(length, 1e-9))


def across(vector: FloatArray, axes: FloatArray) -> FloatArray:
    """The part of a vector square to unit axes of shape (n, 3), made one long."""
    return unit(vector - np.sum(vector * axes, axis=-1, keepdims=True) * axes)


def turned(vectors: FloatArray, axes: FloatArray, angles: FloatArray) -> FloatArray:
    """Vectors (n, 3) turned about unit axes (n, 3) by angles (n,) in degrees, right-handed."""
    return np.asarray(Rotation.from_rotvec(np.radians(angles)[:, None] * axes).apply(vectors))


def joint_between(
    ends: tuple[FloatArray, FloatArray], lengths: tuple[float, float], toward: FloatArray
) -> FloatArray:
    """Where the middle joint of a chain lies by the law of cosines, on the side it points to.

    Parameters
    ----------
    ends
        First and last joint, (n, 3) each.
    lengths
        Of the first and the second segment.
    toward : array of shape (n, 3) or (3,)
        Where the joint points to; what of it lies along the chain counts for nothing.
    """
    first, last = ends
    reach = np.minimum(np.linalg.norm(last - first, axis=-1), LONGEST * sum(lengths))
    along = (lengths[0] ** 2 - lengths[1] ** 2 + reach**2) / (2.0 * reach)
    out = np.sqrt(np.maximum(lengths[0] ** 2 - along**2, 0.0))
    way = unit(last - first)
    return np.asarray(first + along[:, None] * way + out[:, None] * across(toward, way))


def through(knots: FloatArray, values: FloatArray, times: FloatArray) -> FloatArray:
    """A monotone cubic through values at knots (seconds), level at and beyond both ends."""
    knots = np.concatenate([[knots[0] - _STILL], knots, [knots[-1] + _STILL]])
    values = np.concatenate([values[:1], values, values[-1:]])
    return np.asarray(PchipInterpolator(knots, values)(np.clip(times, knots[0], knots[-1])))


def smooth(curve: FloatArray, seconds: float) -> FloatArray:
    """A curve of shape (n, ...) smoothed by a Gaussian of so many seconds, held at its ends."""
    return np.asarray(gaussian_filter1d(curve, seconds * RATE, axis=0, mode="nearest"))
