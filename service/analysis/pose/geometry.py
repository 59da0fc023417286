"""Plane geometry on points, vectorised over any leading axes.

Points are arrays of shape (..., 2), x to the right and y up, any unit. Angles come
back in degrees. A missing (NaN) point gives NaN; so does a direction between two
coincident points, which has none.
"""

from __future__ import annotations

import numpy as np

from service.analysis.types import FloatArray


def joint_angle(proximal: FloatArray, joint: FloatArray, distal: FloatArray) -> FloatArray:
    """Inner angle at a joint, 0 to 180; 180 is a straight limb.

    Measured as the angle between the two segment vectors through ``atan2`` of their
    cross and dot products, which keeps its precision near 0 and 180 where the arc
    cosine loses it.

    >>> joint_angle(np.array([0.0, 1.0]), np.array([0.0, 0.0]), np.array([1.0, 0.0])).item()
    90.0
    """
    u, v = proximal - joint, distal - joint
    return np.abs(turn_between(u, v))


def flexion(proximal: FloatArray, joint: FloatArray, distal: FloatArray) -> FloatArray:
    """Flexion at a hinge joint: 0 is straight, growing as it bends."""
    return 180.0 - joint_angle(proximal, joint, distal)


def turn_between(u: FloatArray, v: FloatArray) -> FloatArray:
    """Signed angle from vector ``u`` to vector ``v``, -180 to 180, anticlockwise positive.

    >>> turn_between(np.array([1.0, 0.0]), np.array([0.0, 2.0])).item()
    90.0
    """
    cross = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    dot = u[..., 0] * v[..., 0] + u[..., 1] * v[..., 1]
    angle = np.degrees(np.arctan2(cross, dot))
    return np.where((cross == 0) & (dot == 0), np.nan, angle)


def direction(start: FloatArray, end: FloatArray) -> FloatArray:
    """Direction from ``start`` to ``end``, -180 to 180, 0 along x and 90 straight up.

    >>> direction(np.array([1.0, 1.0]), np.array([1.0, 3.0])).item()
    90.0
    """
    d = end - start
    return turn_between(np.broadcast_to([1.0, 0.0], d.shape), d)


def elevation(start: FloatArray, end: FloatArray) -> FloatArray:
    """Angle of ``start`` to ``end`` above the horizontal, -90 to 90, whichever way it faces."""
    d = end - start
    angle = np.degrees(np.arctan2(d[..., 1], np.abs(d[..., 0])))
    return np.where((d[..., 0] == 0) & (d[..., 1] == 0), np.nan, angle)


def distance(a: FloatArray, b: FloatArray) -> FloatArray:
    """Distance between two points, in their unit."""
    x, y = a[..., 0] - b[..., 0], a[..., 1] - b[..., 1]
    return np.asarray(np.sqrt(x * x + y * y))  # far faster than numpy's hypot


def midpoint(a: FloatArray, b: FloatArray) -> FloatArray:
    """Point halfway between two points."""
    return 0.5 * (a + b)


def height_above_line(point: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Perpendicular distance of ``point`` from the line through ``start`` and ``end``.

    Positive on the left of the direction from ``start`` to ``end``.

    >>> height_above_line(np.array([0.0, 2.0]), np.array([0.0, 0.0]), np.array([5.0, 0.0])).item()
    2.0
    """
    u, w = end - start, point - start
    cross = u[..., 0] * w[..., 1] - u[..., 1] * w[..., 0]
    length = np.hypot(u[..., 0], u[..., 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(length == 0, np.nan, cross / length)


def squared_length(vectors: FloatArray) -> FloatArray:
    """Squared lengths of plane vectors along the first axis.

    Parameters
    ----------
    vectors : array of shape (2, ...)
    """
    length: FloatArray = vectors[0] * vectors[0]
    length += vectors[1] * vectors[1]
    return length


def spread(values: FloatArray) -> FloatArray:
    """Standard deviation along the last axis of what is not NaN; NaN where all is."""
    seen = ~np.isnan(values)
    count = np.add.reduce(seen, axis=-1)
    some = np.maximum(count, 1)
    known = np.where(seen, values, 0.0)
    mean = np.add.reduce(known, axis=-1) / some
    off = np.where(seen, known - mean[..., None], 0.0)
    found = np.sqrt(np.add.reduce(off * off, axis=-1) / some)
    found[count == 0] = np.nan
    return np.asarray(found)


def within(value: float, least: float, most: float) -> float:
    """One number held between two bounds, as ``np.clip`` does it with many; NaN stays NaN.

    >>> within(3.0, 0.0, 1.0)
    1.0
    """
    return min(max(value, least), most)


def frame_rate(times: FloatArray) -> float:
    """Median frame rate of strictly increasing times in seconds, shape (n_frames,), in hertz; NaN
    for fewer than two frames."""
    return 1.0 / frame_interval(times)


def frame_interval(times: FloatArray) -> float:
    """Seconds between frames: the median, which a dropped frame does not move; NaN for fewer than
    two frames.

    Parameters
    ----------
    times : array of shape (n_frames,)

    >>> frame_interval(np.array([0.0, 0.5, 1.0, 2.0]))
    0.5
    """
    steps = times[1:] - times[:-1]
    if not steps.size:
        return float("nan")
    steps.sort()
    return float(0.5 * (steps[(steps.size - 1) // 2] + steps[steps.size // 2]))
