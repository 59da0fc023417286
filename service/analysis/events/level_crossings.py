"""When a signal over the frames crosses a level for good, between two frames.

Straight lines join the samples; a crossing next to a missing (NaN) or infinite sample is NaN.
"""

from __future__ import annotations

import numpy as np

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


def _last_crossing(
    clock: FloatArray, values: FloatArray, levels: FloatArray, before: BoolArray
) -> FloatArray:
    """Time of each level between the last frame that is ``before`` it and the next one.

    ``before`` has shape (n_levels, n_frames); NaN where there is none or no next one.
    """
    times = np.full(len(levels), np.nan)
    last = len(values) - 1 - np.argmax(before[:, ::-1], axis=1) if len(values) else times
    found = np.flatnonzero(before.any(axis=1) & (last < len(values) - 1))
    k = last[found].astype(np.intp)
    here, there = values[k], values[k + 1]
    known = np.isfinite(here) & np.isfinite(there)
    found, k, here, there = found[known], k[known], here[known], there[known]
    times[found] = clock[k] + (levels[found] - here) / (there - here) * (clock[k + 1] - clock[k])
    return times
