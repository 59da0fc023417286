"""How much the picture grows from address to impact, as where a camera zooms or is carried nearer.

Nobody grows: where a camera that keeps the player in the middle of the picture zooms in, both feet
sink in it and the legs get longer. Either alone is a poor sign, as knees straighten and heels rise;
held against how much they err in swings of every source, together they tell it (the linear
estimate without bias and of least variance). ``python -m tests.reference.fits.growth`` makes the
table anew and prints how a fit without one source does on it.
"""

from __future__ import annotations

from math import log, nan
from typing import Final

import numpy as np

from service.analysis.footage.places import at_both_ends, on_the_way
from service.analysis.pose.geometry import distance
from service.analysis.pose.points import Point
from service.analysis.pose.rows import row_median
from service.analysis.types import FloatArray

ANKLES: Final = [Point.LEAD_ANKLE, Point.TRAIL_ANKLE]
_UPPER: Final = [Point.LEAD_HIP, Point.TRAIL_HIP, Point.LEAD_KNEE, Point.TRAIL_KNEE]
_LOWER: Final = [Point.LEAD_KNEE, Point.TRAIL_KNEE, *ANKLES]
SINKS: Final[float] = 0.48
"""Body heights that the ankles are below what a camera aims at: the middle of the joints."""
USUAL: Final[tuple[float, float, float]] = (0.001, -0.015, -0.005)
"""Body heights that the lead and the trail ankle sink, and growth of the legs, in the usual swing:
the trail heel comes up."""
WEIGHTS: Final[tuple[float, float, float]] = (0.84, 0.73, 0.25)
"""Of what goes beyond that in the growth of the picture."""
_AFTER: Final[int] = 2
"""Frames after impact that are looked at too, as where legs are is told by the middle of five."""


def signs(points: FloatArray, impact: int) -> FloatArray:
    """How far the ankles sink and the logarithm of how much longer the legs get, shape (3,).

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights, from the first frame of the swing on.
    impact : int
        The frame of P7 among them.

    Returns
    -------
    lead and trail ankle in body heights, then the legs; NaN where not seen
    """
    last = impact + _AFTER
    lead, trail = (-on_the_way(points, ANKLES, last)[:, 1]).tolist()
    before, after = (_legs(part) for part in at_both_ends(points, last))
    return np.array([lead, trail, log(after / before) if after * before > 0.0 else nan])


def _legs(points: FloatArray) -> float:
    """The usual length of both thighs and shanks together in some frames."""
    limbs = distance(points.take(_UPPER, axis=1), points.take(_LOWER, axis=1))
    return float(row_median(np.add.reduce(limbs, axis=1)[None])[0])


def growth(points: FloatArray, impact: int) -> float:
    """Logarithm of the factor by which the picture grows up to impact; NaN where not seen."""
    return float(np.dot(signs(points, impact) - USUAL, WEIGHTS))
