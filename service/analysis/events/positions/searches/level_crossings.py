"""When a signal over the frames crosses a level for good, between two frames.

Straight lines join the samples; a crossing next to a missing (NaN) or infinite sample is NaN.
"""

from __future__ import annotations

from math import isfinite, isnan

import numpy as np
from numpy.typing import NDArray

from service.analysis.types import FloatArray


def last_upcrossing(clock: FloatArray, values: FloatArray, levels: FloatArray) -> FloatArray:
    """Times after which ``values`` stay at or above each level, starting from below it.

    Parameters
    ----------
    clock : array of shape (n_frames,)
        May run backward.
    values : array of shape (n_frames,)
    levels : array of shape (n_levels,)

    Returns
    -------
    array of shape (n_levels,); NaN where the values start above or end below the level.
    """
    if _is_seen_to_its_end(values):
        # Whatever is still to come lies above what is the lowest to come.
        to_come = np.fmin.accumulate(values[::-1])
        below = (-to_come).searchsorted(-levels, side="right")
        return _after(clock, values, levels, len(values) - 1 - below)
    return _last_crossing(clock, values, levels)


def _is_seen_to_its_end(values: FloatArray) -> bool:
    return len(values) > 1 and not isnan(values[-1])


def _after(
    clock: FloatArray, values: FloatArray, levels: FloatArray, frames: NDArray[np.intp]
) -> FloatArray:
    """Times at which a signal passes each level between a frame and the next; NaN where that
    frame is the last or none (-1).

    A few plain numbers are done with before numpy has looked at its arguments.
    """
    times, last = np.full(len(levels), np.nan), len(values) - 1
    for n, k in enumerate(frames.tolist()):
        if 0 <= k < last:
            here, there = values.item(k), values.item(k + 1)
            if isfinite(there - here):
                share = (levels.item(n) - here) / (there - here)
                times[n] = clock.item(k) + share * (clock.item(k + 1) - clock.item(k))
    return times


def _last_crossing(clock: FloatArray, values: FloatArray, levels: FloatArray) -> FloatArray:
    """Time of each level between the last frame that is below it and the next one.

    NaN where there is none or no next one.
    """
    if len(values) < 2:
        return np.full(len(levels), np.nan)
    below = values < levels[:, None]
    last = len(values) - 1 - below[:, ::-1].argmax(axis=1)
    k = np.minimum(last, len(values) - 2)
    here, there = values[k], values[k + 1]
    crossed = (here < levels) & ~(there < levels)
    with np.errstate(invalid="ignore", divide="ignore"):
        step = there - here
        time = clock[k] + (levels - here) / step * (clock[k + 1] - clock[k])
    return np.where(crossed & np.isfinite(step), time, np.nan)
