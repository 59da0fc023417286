"""The two sides of the body: which joints are exchanged together, and how they are."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.pose.points import both_sides
from service.analysis.types import BoolArray, FloatArray

LEGS: Final = both_sides("knee", "ankle", "heel", "toe", "small_toe")
"""Joints of the legs, the left ones and the right ones."""
SETTLED: Final = 0.5
"""Seconds after which the sides are taken to be right before they are first exchanged."""


def exchange(
    paths: FloatArray,
    confidence: FloatArray,
    sides: tuple[NDArray[np.intp], NDArray[np.intp]],
    frames: NDArray[np.intp],
) -> None:
    """Exchange the sides of some joints in some frames, in place.

    Parameters
    ----------
    paths : array of shape (2, n_points, n_frames)
    confidence : array of shape (n_points, n_frames)
    sides
        The left joints and the right ones, in one order.
    """
    left, right = (side[:, None] for side in sides)
    for of_points in (paths, confidence):
        kept = of_points[..., left, frames].copy()
        of_points[..., left, frames] = of_points[..., right, frames]
        of_points[..., right, frames] = kept


def stretches(mask: BoolArray) -> int:
    """How many stretches of frames a mask of shape (n_frames,) has.

    >>> stretches(np.array([True, False, True, True]))
    2
    """
    return int(np.count_nonzero(mask[:1])) + int(np.count_nonzero(mask[1:] & ~mask[:-1]))


def smoother_when_swapped(
    apart: FloatArray, first: int, last: int, around: slice, gain: float
) -> bool:
    """Whether turning frames ``first`` to ``last`` leaves at most a share, ``gain``, of the squared
    roughness around them of left minus right, shape (2, n_joints, n_frames)."""
    swapped = apart.copy()
    swapped[..., first:last] *= -1
    return _roughness(swapped[..., around]) < gain * _roughness(apart[..., around])


def _roughness(path: FloatArray) -> float:
    return float(np.nansum(np.square(np.diff(path, n=2))))
