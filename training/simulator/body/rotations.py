"""Rotations and unit vectors, vectorised over a leading time axis; angles in degrees."""

from __future__ import annotations

import numpy as np

from service.analysis.types import FloatArray


def unit(v: FloatArray) -> FloatArray:
    """Vectors of shape (..., 3) scaled to length one."""
    scaled: FloatArray = v / np.linalg.norm(v, axis=-1, keepdims=True)
    return scaled


def about_x(angle: FloatArray) -> FloatArray:
    """Rotations about x that take y toward z, shape (n, 3, 3)."""
    return _about(0, angle)


def about_y(angle: FloatArray) -> FloatArray:
    """Rotations about y that take z toward x, shape (n, 3, 3)."""
    return _about(1, angle)


def about_z(angle: FloatArray) -> FloatArray:
    """Rotations about z that take x toward y, shape (n, 3, 3)."""
    return _about(2, angle)


def _about(axis: int, angle: FloatArray) -> FloatArray:
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    i, j = (axis + 1) % 3, (axis + 2) % 3
    matrix = np.zeros((*np.shape(angle), 3, 3))
    matrix[..., axis, axis] = 1.0
    matrix[..., i, i] = c
    matrix[..., j, j] = c
    matrix[..., j, i] = s
    matrix[..., i, j] = -s
    return matrix


def clock_direction(clock: FloatArray, plane: FloatArray, heading: FloatArray) -> FloatArray:
    """Unit vectors in a tilted swing plane, shape (n, 3).

    ``clock`` is the angle within the plane: 0 points down the plane to the ball, 90 at
    the target, 180 up the plane. ``plane`` is the plane's angle from the horizontal
    and ``heading`` turns it about the vertical, positive to the ball side of the target.

    >>> clock_direction(np.array(180.0), np.array(60.0), np.array(0.0)).round(3).tolist()
    [0.0, 0.866, -0.5]
    """
    c, p, h = (np.radians(a) for a in (clock, plane, heading))
    along, out, down = np.sin(c), np.cos(c) * np.cos(p), np.cos(c) * np.sin(p)
    x = along * np.cos(h) - out * np.sin(h)
    z = along * np.sin(h) + out * np.cos(h)
    return np.stack([x, -down, z], axis=-1)


def clock_of(direction: FloatArray) -> tuple[float, float]:
    """Clock and plane (heading 0) of one downward unit vector, degrees.

    Inverse of :func:`clock_direction` for clocks within -90 to 90.
    """
    x, y, z = direction
    return float(np.degrees(np.arcsin(x))), float(np.degrees(np.arctan2(-y, z)))
