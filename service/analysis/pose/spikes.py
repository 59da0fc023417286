"""Single measurements that leave the path of their point for a moment: an estimator's outliers."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.pose.geometry import frame_rate, squared_length
from service.analysis.pose.rows import row_median
from service.analysis.types import BoolArray, FloatArray

_LONGEST_SPIKE: Final = 1 / 30
"""Seconds, but two frames at least."""
_SPIKE_FLOOR: Final = 0.04
"""Body heights; a smaller spike does no harm worth the risk of removing real motion."""
_SPIKE_ACCELERATION: Final = 70.0
"""Body heights per second squared, some 120 m/s^2: how abruptly hands or elbows may turn
between two neighbours. Set so that hand-annotated swings at 30 frames a second stay whole."""
_SPIKE_STEPS: Final = 2.0
"""A spike is larger than this many of the steps the point takes about it. A path that
turns on the spot strays from the prediction by two thirds of a step."""
_SPIKE_SIGMAS: Final = 6.0
_RAYLEIGH_MEDIAN: Final = float(np.sqrt(2 * np.log(2)))
"""Median length of a plane vector of standard normal components."""


def find_spikes(paths: FloatArray, times: FloatArray, scale: float) -> BoolArray:
    """Measurements that leave the path of their point for a moment and come back.

    Each is compared with the cubic through two neighbours on either side. It is a spike
    if it strays by more than the noise of its point explains, by more than a player can
    turn in that time, and by more than the steps the point is taking there: the faster
    it moves between frames, the less its neighbours tell. The first and last two
    observations of a point can't be judged.
    """
    observed: BoolArray = ~np.isnan(paths[0])
    spikes, neighbours = np.zeros_like(observed), _neighbours(times)
    count = observed.sum(axis=1)
    whole = count == len(times)
    if whole.any():
        spikes[whole] = _strays(paths[:, whole] / scale, times[None], neighbours)
    gappy = (count > 0) & ~whole
    if gappy.any():
        seen, count = observed[gappy], count[gappy]
        packed = np.arange(count.max()) < count[:, None]
        path = _packed(paths[:, gappy] / scale, seen, packed)
        moments = _packed(times[None, None], seen, packed)[0]
        spikes[observed & gappy[:, None]] = _strays(path, moments, neighbours)[packed]
    return spikes


def _packed(values: FloatArray, seen: BoolArray, packed: BoolArray) -> FloatArray:
    """What is seen of some rows moved to their fronts, shape (n, *packed.shape); NaN after it.

    Parameters
    ----------
    values : array of shape (n, n_points, n_frames), or (n, 1, n_frames) for all points alike
    """
    close = np.full((len(values), packed.size), np.nan)
    if values.shape[1] == 1:
        close[:, packed.ravel()] = values[:, 0, np.nonzero(seen)[1]]
    else:
        close[:, np.flatnonzero(packed)] = values.reshape(len(values), -1)[:, np.flatnonzero(seen)]
    return close.reshape(-1, *packed.shape)


def _strays(
    path: FloatArray, moments: FloatArray, neighbours: list[tuple[int, int, int, int]]
) -> BoolArray:
    """Spikes in paths of shape (2, n_points, n_observations) without gaps."""
    strays = np.zeros(path.shape[1:], dtype=bool)
    for offsets in neighbours:
        first, last = -offsets[0], path.shape[2] - offsets[-1]
        if first < last:
            views = [slice(first + k, last + k) for k in (*offsets, 0)]
            strays[:, first:last] |= _strays_from(
                [path[..., view] for view in views], [moments[:, view] for view in views]
            )
    return strays


def _neighbours(times: FloatArray) -> list[tuple[int, int, int, int]]:
    """Which observations to predict from, near ones for short spikes and far for long."""
    longest = int(_LONGEST_SPIKE * frame_rate(times) + 1e-3) if len(times) > 1 else 0
    if longest < 2:
        return [(-2, -1, 1, 2), (-2, -1, 2, 3), (-3, -2, 1, 2)]
    strides = [s for s in (1, 3, 9, 27) if s < longest] + [longest]
    return [(-2 * s, -s, s, 2 * s) for s in strides]


def _strays_from(path: list[FloatArray], moments: list[FloatArray]) -> BoolArray:
    """Whether the last of five observations strays from the other four."""
    residual = squared_length(path[4] - _cubic(path[:4], moments[:4], moments[4]))
    reach = (moments[2] - moments[1]) / 2
    least = (_SPIKE_FLOOR + _SPIKE_ACCELERATION * reach**2) ** 2
    strays: BoolArray = residual > least
    # Few measurements stray so far; only these are looked at further.
    rows, at = strays.nonzero()
    if not rows.size:
        return strays
    some = np.flatnonzero(strays.any(axis=1))
    noise = np.empty(len(strays))
    noise[some] = (_SPIKE_SIGMAS / _RAYLEIGH_MEDIAN) ** 2 * row_median(residual[some])
    a, b, d, e = (each[:, rows, at] for each in path[:4])
    steps = (squared_length(b - a), squared_length(e - d), squared_length(d - b) / 4)
    least_there = np.maximum(noise[rows], _SPIKE_STEPS**2 * np.maximum.reduce(steps))
    strays[rows, at] = residual[rows, at] > least_there
    return strays


def _cubic(values: list[FloatArray], moments: list[FloatArray], at: FloatArray) -> FloatArray:
    """Lagrange's cubic through four neighbours."""
    a, b, d, e = (moment - at for moment in moments)
    ab, de, ba, da, ea, db, eb, ed = a * b, d * e, b - a, d - a, e - a, d - b, e - b, e - d
    path = b * de / (ba * da * ea) * values[0]
    path -= a * de / (ba * db * eb) * values[1]
    path += ab * e / (da * db * ed) * values[2]
    path -= ab * d / (ea * eb * ed) * values[3]
    return path
