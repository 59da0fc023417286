"""When a signal over the frames crosses a level for good, between two frames.

Straight lines join the samples; a crossing next to a missing (NaN) or infinite sample is NaN.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.analysis.types import BoolArray, FloatArray


def last_upcrossing(clock: FloatArray, values: FloatArray, levels: FloatArray) -> FloatArray:
    """Times after which ``values`` stay at or above each level, starting from below it.

    Parameters
    ----------
    clock, values : arrays of shape (n_frames,)
        The clock may run backward.
    levels : array of shape (n_levels,)

    Returns
    -------
    array of shape (n_levels,); NaN where the values start above or end below the level.
    """
    return _last_crossing(clock, values, levels, values < levels[:, None])


def last_time_above(clock: FloatArray, values: FloatArray, levels: FloatArray) -> FloatArray:
    """Times at which ``values`` were last at each level or above; NaN if they still are.

    Shapes as in :func:`last_upcrossing`.
    """
    return _last_crossing(clock, values, levels, values >= levels[:, None])


def first_upcrossing(clock: FloatArray, values: FloatArray, levels: FloatArray) -> FloatArray:
    """Times at which ``values`` first rise to each level, having been below it; NaN if never.

    Shapes as in :func:`last_upcrossing`.
    """
    times = np.full(len(levels), np.nan)
    if len(values) < 2:
        return times
    below, above = values < levels[:, None], values >= levels[:, None]
    rises = below[:, :-1] & above[:, 1:]
    k = rises.argmax(axis=1)
    found = rises[np.arange(len(levels)), k]
    times[found] = _between(clock, values, k[found], levels[found])
    return times


def _last_crossing(
    clock: FloatArray, values: FloatArray, levels: FloatArray, before: BoolArray
) -> FloatArray:
    """Time of each level between the last frame that is ``before`` it and the next one.

    ``before`` has shape (n_levels, n_frames); NaN where there is none or no next one.
    """
    times = np.full(len(levels), np.nan)
    if len(values) < 2:
        return times
    last = len(values) - 1 - before[:, ::-1].argmax(axis=1)
    k = np.minimum(last, len(values) - 2)
    known = np.isfinite(values[k]) & np.isfinite(values[k + 1])
    found = before[np.arange(len(levels)), last] & (k == last) & known
    times[found] = _between(clock, values, k[found], levels[found])
    return times


def _between(
    clock: FloatArray, values: FloatArray, k: NDArray[np.intp], levels: FloatArray
) -> FloatArray:
    """Times at which the straight lines from frames ``k`` to the next ones reach some levels."""
    share = (levels - values[k]) / (values[k + 1] - values[k])
    return np.asarray(clock[k] + share * (clock[k + 1] - clock[k]))
