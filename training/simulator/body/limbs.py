"""Two-bone limbs: where the middle joint goes, and how far a limb reaches."""

from __future__ import annotations

import numpy as np

from service.analysis.types import FloatArray
from training.simulator.body.rotations import unit


def middle_joint(
    root: FloatArray, end: FloatArray, upper: float, lower: float, pole: FloatArray
) -> FloatArray:
    """Elbow or knee of a limb of two rigid bones, by the law of cosines.

    Parameters
    ----------
    root, end : arrays of shape (n, 3)
        Shoulder and wrist, or hip and ankle, in reach of each other.
    upper, lower : float
        Lengths of the two bones.
    pole : array of shape (n, 3)
        Direction toward which the limb bends; its part along the limb is of no account.

    Returns
    -------
    array of shape (n, 3). Beyond reach it lies on the line, and the bones seem to stretch.
    """
    span = end - root
    length = np.linalg.norm(span, axis=-1, keepdims=True)
    axis = span / length
    along = (upper**2 - lower**2 + length**2) / (2.0 * length)
    aside = np.sqrt(np.maximum(upper**2 - along**2, 0.0))
    across = unit(pole - np.sum(pole * axis, axis=-1, keepdims=True) * axis)
    middle: FloatArray = root + along * axis + aside * across
    return middle


def length_at(flexion: FloatArray, upper: float, lower: float) -> FloatArray:
    """Distance from root to end of a limb flexed by an angle in degrees (0 is straight)."""
    squared = upper**2 + lower**2 + 2.0 * upper * lower * np.cos(np.radians(flexion))
    return np.sqrt(squared)


def pull_within(root: FloatArray, end: FloatArray, reach: float, softness: float) -> FloatArray:
    """Shift that brings ``end`` within ``reach`` of ``root``, smoothly, shape (n, 3).

    Well inside the reach there is no shift; within about ``softness`` of it the shift
    sets in gradually, so that limbs never snap straight.
    """
    span = end - root
    length = np.linalg.norm(span, axis=-1, keepdims=True)
    beyond = softness * np.logaddexp(0.0, (length - reach + softness) / softness)
    shift: FloatArray = -beyond / length * span
    return shift
