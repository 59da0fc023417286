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

from service.analysis.footage.places import LOWER, UPPER, Instant, Legs
from service.analysis.pose.geometry import distance
from service.analysis.pose.rows import row_median
from service.analysis.types import FloatArray

SINKS: Final[float] = 0.48
"""Body heights that the ankles are below what a camera aims at: the middle of the joints."""
USUAL: Final[tuple[float, float, float]] = (0.001, -0.015, -0.005)
"""Body heights that the lead and the trail ankle sink, and growth of the legs, in the usual swing:
the trail heel comes up."""
WEIGHTS: Final[tuple[float, float, float]] = (0.84, 0.73, 0.25)
"""Of what goes beyond that in the growth of the picture."""


def signs(legs: Legs) -> FloatArray:
    """How far the ankles sink up to impact and the logarithm of how much longer the legs get.

    Returns
    -------
    array of shape (n_swings, 3)
        Lead and trail ankle in body heights, then the legs; NaN where not seen.
    """
    told = np.empty((len(legs.frames), 3))
    told[:, :2] = -legs.gone(Instant.AFTER_IMPACT)[..., 1]
    told[:, 2] = [
        log(after / first) if after * first > 0.0 else nan
        for first, after in _lengths(legs).tolist()
    ]
    return told


def _lengths(legs: Legs) -> FloatArray:
    """The usual length of both thighs and shanks together at first and after impact, shape
    (n_swings, 2)."""
    frames = legs.frames.take((Instant.FIRST, Instant.AFTER_IMPACT), axis=1)
    limbs = distance(frames[..., UPPER, :], frames[..., LOWER, :])
    together = np.add.reduce(limbs, axis=-1)
    return row_median(together.reshape(-1, together.shape[-1])).reshape(len(together), -1)


def growth(legs: Legs) -> FloatArray:
    """Logarithm of the factor by which each picture grows up to impact, shape (n_swings,); NaN
    where not seen."""
    return np.asarray((signs(legs) - USUAL) @ WEIGHTS)
