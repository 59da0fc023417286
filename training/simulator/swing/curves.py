"""Smooth curves through key poses that come to rest where they should."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline, CubicSpline

from service.analysis.types import FloatArray


def curve(times: FloatArray, values: FloatArray, rests: NDArray[np.bool_]) -> CubicHermiteSpline:
    """Piecewise cubic through ``values`` with zero velocity at the ``rests``.

    Between rests the knot slopes are those of a clamped cubic spline, limited so that
    the curve never overshoots its knots [hyman1983].
    Velocity is continuous throughout.

    Parameters
    ----------
    times : array of shape (n_knots,)
        Strictly increasing; the first and last knot must be rests.
    values : array of shape (n_knots, n_channels)
    rests : array of shape (n_knots,)
    """
    slopes = np.zeros_like(values)
    stops = np.flatnonzero(rests)
    for first, last in pairwise(stops):
        if last - first > 1:
            part = slice(first, last + 1)
            spline = CubicSpline(times[part], values[part], bc_type="clamped")
            slopes[part] = _limited(spline(times[part], 1), times[part], values[part])
    return CubicHermiteSpline(times, values, slopes)


def _limited(slopes: FloatArray, times: FloatArray, values: FloatArray) -> FloatArray:
    secants = np.diff(values, axis=0) / np.diff(times)[:, None]
    before, after = secants[:-1], secants[1:]
    monotone = before * after > 0
    bound = np.where(monotone, 3.0 * np.minimum(np.abs(before), np.abs(after)), 0.0)
    limited = slopes.copy()
    limited[1:-1] = np.sign(before) * np.clip(slopes[1:-1] * np.sign(before), 0.0, bound)
    return limited
