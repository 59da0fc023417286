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
    clock : array of shape (n_frames,)
        May run backward.
    values : array of shape (n_frames,) or (n_signals, n_frames)
    levels : array of shape (n_levels,) or (n_signals, n_levels)

    Returns
    -------
    array of the shape of ``levels``; NaN where the values start above or end below the level.
    """
    return _last_crossing(clock, values, levels, values[..., None, :] < levels[..., None])


def last_time_above(clock: FloatArray, values: FloatArray, levels: FloatArray) -> FloatArray:
    """Times at which ``values`` were last at each level or above; NaN if they still are.

    Shapes as in :func:`last_upcrossing`.
    """
    return _last_crossing(clock, values, levels, values[..., None, :] >= levels[..., None])


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
    k = k[found]
    times[found] = _between(clock, k, values[k], values[k + 1], levels[found])
    return times


def _last_crossing(
    clock: FloatArray, values: FloatArray, levels: FloatArray, before: BoolArray
) -> FloatArray:
    """Time of each level between the last frame that is ``before`` it and the next one.

    ``before`` has shape (..., n_levels, n_frames); NaN where there is none or no next one.
    """
    times, n_frames = np.full(levels.size, np.nan), before.shape[-1]
    if n_frames < 2:
        return times.reshape(levels.shape)
    rows = before.reshape(-1, n_frames)
    last = n_frames - 1 - rows[:, ::-1].argmax(axis=1)
    # Frames counted through all signals, one after the other.
    signal = np.arange(levels.size) // levels.shape[-1]
    flat, at = values.ravel(), signal * n_frames + np.minimum(last, n_frames - 2)
    known = np.isfinite(flat[at]) & np.isfinite(flat[at + 1])
    found = rows[np.arange(levels.size), last] & (last < n_frames - 1) & known
    here, there = flat[at[found]], flat[at[found] + 1]
    times[found] = _between(clock, last[found], here, there, levels.ravel()[found])
    return times.reshape(levels.shape)


def _between(
    clock: FloatArray,
    k: NDArray[np.intp],
    here: FloatArray,
    there: FloatArray,
    levels: FloatArray,
) -> FloatArray:
    """Times at which straight lines from values at frames ``k`` to the next reach some levels."""
    return np.asarray(clock[k] + (levels - here) / (there - here) * (clock[k + 1] - clock[k]))
