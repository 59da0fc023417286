"""Vectors, frames and limbs in space, over a leading time axis."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from service.analysis.types import FloatArray


def unit(v: FloatArray) -> FloatArray:
    """Vectors of shape (..., 3) scaled to length one."""
    return np.asarray(v / np.linalg.norm(v, axis=-1, keepdims=True))


def across(v: FloatArray, axis: FloatArray) -> FloatArray:
    """Unit vectors along what of ``v`` lies across ``axis`` (unit), both of shape (..., 3)."""
    return unit(v - np.sum(v * axis, axis=-1, keepdims=True) * axis)


def turned(v: FloatArray, axis: FloatArray, degrees: FloatArray | float) -> FloatArray:
    """Vectors turned about unit axes (Rodrigues' formula), shapes (..., 3).

    >>> turned(np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]), 90.0).round(3).tolist()
    [0.0, 1.0, 0.0]
    """
    angle = np.radians(np.asarray(degrees))[..., None]
    along = np.sum(v * axis, axis=-1, keepdims=True) * axis
    return np.asarray(along + np.cos(angle) * (v - along) + np.sin(angle) * np.cross(axis, v))


def frame_quaternions(first: FloatArray, second: FloatArray) -> FloatArray:
    """Quaternions, signs continuous, of frames whose first two axes are given, shape (n, 4).

    ``second`` is set square to ``first``; both have shape (n, 3).
    """
    x = unit(first)
    y = across(second, x)
    matrices = np.stack([x, y, np.cross(x, y)], axis=-1)
    quaternions = Rotation.from_matrix(matrices).as_quat()
    for k in range(1, len(quaternions)):
        if quaternions[k] @ quaternions[k - 1] < 0.0:
            quaternions[k] = -quaternions[k]
    return np.asarray(quaternions)


def first_axis(quaternions: FloatArray) -> FloatArray:
    """First axis of frames given by quaternions of any length, shape (n, 4) to (n, 3)."""
    return np.asarray(Rotation.from_quat(quaternions).as_matrix()[..., 0])


def bend_toward(
    root: FloatArray, end: FloatArray, upper: float, lower: float, pole: FloatArray
) -> FloatArray:
    """Middle joint of a two-bone limb that bends toward ``pole``, shapes (n, 3).

    The triangle of two bones and the span is solved for its height over the span; a span longer
    than the bones leaves the joint on it.
    """
    span = end - root
    length = np.linalg.norm(span, axis=-1, keepdims=True)
    half = 0.5 * (upper + lower + length)
    area2 = half * (half - upper) * (half - lower) * (half - length)
    height = 2.0 * np.sqrt(np.maximum(area2, 0.0)) / length
    foot = np.sqrt(np.maximum(upper**2 - height**2, 0.0))
    foot = np.where(length**2 + upper**2 < lower**2, -foot, foot)
    axis = span / length
    return np.asarray(root + foot * axis + height * across(pole, axis))


def soft_excess(value: FloatArray, limit: float, softness: float) -> FloatArray:
    """How far values go beyond a limit, set in gradually over ``softness``; never negative."""
    return np.asarray(softness * np.logaddexp(0.0, (value - limit) / softness))
