"""When a signal over the frames crosses a level for good, between two frames.

Straight lines join the samples; a crossing next to a missing (NaN) or infinite sample is NaN.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import ge, lt

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
    return _last_crossing(clock, values, levels, lt)


def last_time_above(clock: FloatArray, values: FloatArray, levels: FloatArray) -> FloatArray:
    """Times at which ``values`` were last at each level or above; NaN if they still are.

    Shapes as in :func:`last_upcrossing`.
    """
    return _last_crossing(clock, values, levels, ge)


def first_upcrossing(clock: FloatArray, values: FloatArray, levels: FloatArray) -> FloatArray:
    """Times at which ``values`` first rise to each level, having been below it; NaN if never.

    Parameters
    ----------
    values : array of shape (n_frames,)
    levels : array of shape (n_levels,)
    """
    if len(values) < 2:
        return np.full(len(levels), np.nan)
    here, there = values[:-1], values[1:]
    level = levels[:, None]
    k = ((here < level) & (there >= level)).argmax(axis=1)
    here, there = here[k], there[k]
    return _between(clock, k, here, there, levels, (here < levels) & (there >= levels))


def _last_crossing(
    clock: FloatArray,
    values: FloatArray,
    levels: FloatArray,
    is_before: Callable[[FloatArray, FloatArray], BoolArray],
) -> FloatArray:
    """Time of each level between the last frame that is before it and the next one.

    NaN where there is none or no next one.
    """
    n_frames = values.shape[-1]
    if n_frames < 2:
        return np.full(levels.shape, np.nan)
    before = is_before(values[..., None, :], levels[..., None])
    last = n_frames - 1 - before[..., ::-1].argmax(axis=-1)
    k = np.minimum(last, n_frames - 2)
    if values.ndim == 1:
        here, there = values[k], values[k + 1]
    else:
        here, there = (np.take_along_axis(values, at, axis=1) for at in (k, k + 1))
    crossed = is_before(here, levels) & ~is_before(there, levels)
    return _between(clock, k, here, there, levels, crossed)


def _between(
    clock: FloatArray,
    k: NDArray[np.intp],
    here: FloatArray,
    there: FloatArray,
    levels: FloatArray,
    crossed: BoolArray,
) -> FloatArray:
    """Times at which straight lines from values at frames ``k`` to the next reach some levels,
    where they are crossed."""
    with np.errstate(invalid="ignore", divide="ignore"):
        step = there - here
        time = clock[k] + (levels - here) / step * (clock[k + 1] - clock[k])
    return np.where(crossed & np.isfinite(step), time, np.nan)
