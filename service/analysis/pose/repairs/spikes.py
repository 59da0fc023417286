"""Single measurements that leave the path of their point for a moment: an estimator's outliers."""

from __future__ import annotations

from math import isnan
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.pose.geometry import squared_length
from service.analysis.pose.rows import row_median
from service.analysis.pose.timeline import Timeline
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

_Offsets = tuple[int, int, int, int]


@np.errstate(divide="ignore", invalid="ignore", over="ignore")  # from one clip into the next
def find_spikes(paths: FloatArray, line: Timeline, scales: FloatArray) -> BoolArray:
    """Measurements that leave the path of their point for a moment and come back.

    Each is compared with the cubic through two neighbours on either side. It is a spike
    if it strays by more than the noise of its point explains, by more than a player can
    turn in that time, and by more than the steps the point is taking there: the faster
    it moves between frames, the less its neighbours tell. The first and last two
    observations of a point can't be judged.

    Parameters
    ----------
    paths : array of shape (2, n_points, n_frames)
        Of clips end to end; NaN where missing.
    scales : array of shape (n_clips,)
        Body heights in the unit of ``paths``.

    Returns
    -------
    array of shape (n_points, n_frames)
    """
    observed: BoolArray = ~np.isnan(paths[0])
    neighbours = [_neighbours(rate) for rate in line.rates]
    whole: BoolArray = np.logical_and.reduceat(observed, line.first, axis=1)
    if whole.all():
        return _strays(paths, line, scales, neighbours)
    spikes = np.zeros_like(observed)
    rows = np.flatnonzero(whole.any(axis=1))
    spikes[rows] = _strays(paths[:, rows], line, scales, neighbours) & whole[rows][:, line.clip]
    gappy = observed & ~whole[:, line.clip]
    if gappy.any():
        spikes[gappy] = _strays_between_gaps(paths, gappy, line, scales, neighbours)
    return spikes


def _strays_between_gaps(
    paths: FloatArray,
    gappy: BoolArray,
    line: Timeline,
    scales: FloatArray,
    neighbours: list[list[_Offsets]],
) -> BoolArray:
    """Spikes among what is seen of points with gaps, the seen moved together.

    Each point of each clip is a clip by itself for that, one behind the other.

    Parameters
    ----------
    gappy : array of shape (n_points, n_frames)
        The observations to judge.

    Returns
    -------
    array of shape (n_observations,), in the order of ``gappy``
    """
    point, frame, packed = line.picked(gappy)
    owners = line.clip[frame[packed.first]]
    path = paths[:, None, point, frame]
    strays = _strays(path, packed, scales[owners], [neighbours[k] for k in owners.tolist()])
    return np.asarray(strays[0])


def _strays(
    paths: FloatArray, line: Timeline, scales: FloatArray, neighbours: list[list[_Offsets]]
) -> BoolArray:
    """Spikes in paths without gaps; next to what is missing none is told.

    Parameters
    ----------
    paths : array of shape (2, n_points, n_frames)
    neighbours : for each clip, which observations to predict from
    """
    strays = np.zeros(paths.shape[1:], dtype=bool)
    scale = scales[line.clip]
    for offsets in sorted({each for own in neighbours for each in own}):
        first, last = -offsets[0], paths.shape[2] - offsets[-1]
        if first < last:
            asked = np.array([offsets in own for own in neighbours])
            judged = line.within(offsets[-1] - offsets[0]) & asked[line.clip[first:last]]
            rows, at = _strays_from(
                paths, line, offsets, np.where(judged, scale[first:last], np.inf)
            )
            strays[rows, at] = True
    return strays


def _neighbours(rate: float) -> list[_Offsets]:
    """Which observations to predict from, near ones for short spikes and far for long."""
    longest = 0 if isnan(rate) else int(_LONGEST_SPIKE * rate + 1e-3)
    if longest < 2:
        return [(-2, -1, 1, 2), (-2, -1, 2, 3), (-3, -2, 1, 2)]
    strides = [s for s in (1, 3, 9, 27) if s < longest] + [longest]
    return [(-2 * s, -s, s, 2 * s) for s in strides]


def _strays_from(
    paths: FloatArray, line: Timeline, offsets: _Offsets, scale: FloatArray
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Points and frames of the measurements that stray from four neighbours.

    Parameters
    ----------
    scale : array of shape (n_frames that have all neighbours,)
        Body height in the unit of ``paths``; infinite where nothing is to be judged.
    """
    first, last = -offsets[0], paths.shape[2] - offsets[-1]
    views = [slice(first + k, last + k) for k in offsets]
    moments, path = [line.times[view] for view in views], [paths[..., view] for view in views]
    residual = _residual(paths[..., first:last], path, moments, line.times[first:last])
    reach = (moments[2] - moments[1]) / 2
    least = (scale * (_SPIKE_FLOOR + _SPIKE_ACCELERATION * reach**2)) ** 2
    # Hardly any do: in one row they are found in a fifth of the time.
    rows, at = np.divmod(np.flatnonzero(residual > least), residual.shape[1])
    if not rows.size:
        return rows, at
    # Few measurements stray so far; only these are looked at further.
    a, b, d, e = (each[:, rows, at] for each in path)
    steps = (squared_length(b - a), squared_length(e - d), squared_length(d - b) / 4)
    large = residual[rows, at] > _SPIKE_STEPS**2 * np.maximum.reduce(steps)
    rows, at = rows[large], at[large]
    noise = _noise(residual, rows, line, at + first, offsets)
    spikes = residual[rows, at] > (_SPIKE_SIGMAS / _RAYLEIGH_MEDIAN) ** 2 * noise
    return rows[spikes], at[spikes] + first


def _noise(
    residual: FloatArray,
    rows: NDArray[np.intp],
    line: Timeline,
    frames: NDArray[np.intp],
    offsets: _Offsets,
) -> FloatArray:
    """The median of all residuals of the same point in the same clip, shape (n_residuals,).

    ``residual`` has shape (n_points, n_frames that have all neighbours).
    """
    medians = dict[tuple[int, int], float]()
    owners = list(zip(rows.tolist(), line.clip[frames].tolist(), strict=True))
    for row, clip in set(owners):
        span = line.spans[clip]
        own = residual[row : row + 1, span.start : span.stop + offsets[0] - offsets[-1]]
        medians[row, clip] = float(row_median(own)[0])
    return np.array([medians[owner] for owner in owners])


def _residual(
    there: FloatArray, path: list[FloatArray], moments: list[FloatArray], at: FloatArray
) -> FloatArray:
    """Squared distance from the cubic through four neighbours, shape (n_points, n_judged)."""
    away, share = there.copy(), np.empty_like(there)
    for weight, neighbour in zip(_cubic_weights(moments, at), path, strict=True):
        away -= np.multiply(weight, neighbour, out=share)
    return squared_length(away)


def _cubic_weights(moments: list[FloatArray], at: FloatArray) -> list[FloatArray]:
    """Of four neighbours in the value of Lagrange's cubic through them."""
    a, b, d, e = (moment - at for moment in moments)
    ab, de, ba, da, ea, db, eb, ed = a * b, d * e, b - a, d - a, e - a, d - b, e - b, e - d
    return [
        b * de / (ba * da * ea),
        -a * de / (ba * db * eb),
        ab * e / (da * db * ed),
        -ab * d / (ea * eb * ed),
    ]
