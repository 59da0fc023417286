"""A swing laid out along its position coordinate instead of along its frames."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from service.analysis.points import N_POINTS, Point
from service.analysis.swing import FloatArray, Position, View

STEPS_PER_POSITION: Final[int] = 8
GRID: Final[FloatArray] = np.linspace(1.0, 10.0, 9 * STEPS_PER_POSITION + 1)
"""Position coordinates at which every swing is sampled, in steps of an eighth."""


@dataclass(frozen=True)
class PhasedSwing:
    """Canonical poses of one swing sampled on :data:`GRID`, with what noise may do to them.

    Sample 0 is the best estimate; the others are drawn from the keypoint noise and the
    timing uncertainty, so that the spread of any measure over the samples is its
    uncertainty.

    Attributes
    ----------
    poses : array of shape (n_samples, n_grid, n_points, 2)
        In body heights, y up. Face-on, x grows toward the target; down the line, x
        grows from the player toward the ball. NaN where a point is missing.
    times : array of shape (n_samples, n_grid)
        Seconds; NaN beyond the positions that were found.
    view : View
        Where the camera stands.
    """

    poses: FloatArray
    times: FloatArray
    view: View

    def point(self, point: Point) -> FloatArray:
        """Path of one point, shape (n_samples, n_grid, 2)."""
        return self.poses[:, :, point]

    def at(self, position: float) -> FloatArray:
        """Poses at one position coordinate, shape (n_samples, n_points, 2)."""
        return self.poses[:, grid_index(position)]

    def time_at(self, position: float) -> FloatArray:
        """Times of one position coordinate, shape (n_samples,)."""
        return self.times[:, grid_index(position)]


def grid_index(position: float) -> int:
    """Index on :data:`GRID` nearest to a position coordinate.

    >>> float(GRID[grid_index(4.5)])
    4.5
    """
    return round((position - 1.0) * STEPS_PER_POSITION)


_N_DRAWS: Final[int] = 32
_DRAWS: Final[FloatArray] = np.random.default_rng(20).standard_normal((_N_DRAWS, 10, N_POINTS, 2))
"""Unit keypoint errors at P1 to P10, fixed so that the same clip gets the same answer."""
_TIME_DRAWS: Final[FloatArray] = np.random.default_rng(21).standard_normal((_N_DRAWS, 10))


def _along_grid(at_positions: FloatArray) -> FloatArray:
    """Spread values given at P1 to P10 (axis 1) over the grid by straight lines."""
    lower = np.minimum((GRID - 1.0).astype(np.intp), 8)
    share = (GRID - 1.0 - lower).reshape(-1, *[1] * (at_positions.ndim - 2))
    low, high = at_positions[:, lower], at_positions[:, lower + 1]
    # Dividing keeps the spread of the mix what it is at the positions themselves.
    return np.asarray(((1.0 - share) * low + share * high) / np.hypot(1.0 - share, share))


_ALONG_GRID: Final[FloatArray] = _along_grid(_DRAWS)


def coordinate(times: FloatArray, path: FloatArray, positions: Sequence[Position]) -> FloatArray:
    """Position coordinate of every frame: 4.5 is halfway along the hands' path from P4 to P5.

    Measured along the path of the hands, not by time, so that it means the same in a slow
    rehearsal, at full speed and across a pause.

    Parameters
    ----------
    times : array of shape (n_frames,)
    path : array of shape (n_frames, 2)
        Path of the hands.
    positions : P1 to P10

    Returns
    -------
    array of shape (n_frames,); NaN before the first and after the last position found.
    """
    knots, values = _knots(times, path, positions)
    if knots.size < 2:
        return np.full(len(times), np.nan)
    return np.interp(times, knots, values, left=np.nan, right=np.nan)


def lay_out(
    points: FloatArray,
    times: FloatArray,
    path: FloatArray,
    positions: Sequence[Position],
    noise: FloatArray,
    view: View,
) -> PhasedSwing:
    """Sample a swing on :data:`GRID`, once as found and then with drawn errors.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    times : array of shape (n_frames,)
    path : array of shape (n_frames, 2)
        Path of the hands.
    noise : array of shape (n_points,)
        One standard deviation of the error of ``points`` on one axis.
    """
    knots, values = _knots(times, path, positions)
    grid_times = np.interp(GRID, values, knots, left=np.nan, right=np.nan)
    spread = np.array([p.uncertainty or 0.0 for p in positions])
    shifts = np.vstack([np.zeros(len(GRID)), _along_grid(_TIME_DRAWS * spread)])
    seen = ~np.isnan(points).all(axis=(0, 2))
    best, velocity = _sample(points[:, seen], times, grid_times)
    poses = np.full((_N_DRAWS + 1, len(GRID), N_POINTS, 2), np.nan)
    # To first order, a moment found late shows the pose a little further along its way.
    drawn = best + velocity * shifts[:, :, None, None]
    drawn[1:] += _ALONG_GRID[:, :, seen] * np.nan_to_num(noise[seen])[:, None]
    poses[:, :, seen] = drawn
    return PhasedSwing(poses, np.maximum.accumulate(grid_times + shifts, axis=1), view)


def _knots(
    times: FloatArray, path: FloatArray, positions: Sequence[Position]
) -> tuple[FloatArray, FloatArray]:
    """Times and coordinates between which the coordinate runs straight."""
    anchors = [(p.time, float(p.number)) for p in positions if p.time is not None]
    knots: list[float] = []
    values: list[float] = []
    for (start, low), (end, high) in pairwise(anchors):
        inside = times[(times > start) & (times < end)]
        stops = np.concatenate([[start], inside, [end]])
        way = np.column_stack([np.interp(stops, times, path[:, k]) for k in (0, 1)])
        steps = np.hypot(*np.diff(way, axis=0).T)
        # A little of the time keeps the coordinate running through a dead stop.
        steps = np.nan_to_num(steps) + 1e-3 * np.diff(stops)
        share = np.concatenate([[0.0], np.cumsum(steps)]) / steps.sum()
        knots.extend(stops[:-1])
        values.extend(low + share[:-1] * (high - low))
    if anchors:
        knots.append(anchors[-1][0])
        values.append(anchors[-1][1])
    return np.array(knots), np.array(values)


def _sample(points: FloatArray, times: FloatArray, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Points and their velocities at arbitrary times, by cubic Hermite interpolation.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
    at : array of shape (n_grid,)

    Returns
    -------
    two arrays of shape (n_grid, n_points, 2); NaN where a point is missing next to the
    time asked for, or the time itself is NaN.
    """
    wanted = np.nan_to_num(at, nan=times[0])
    k = np.clip(np.searchsorted(times, wanted, side="right") - 1, 0, len(times) - 2)
    step = (times[k + 1] - times[k])[:, None, None]
    u = ((wanted - times[k])[:, None, None]) / step
    left, right = points[k], points[k + 1]
    chord = (right - left) / step
    slopes = np.gradient(points, times, axis=0)
    before, after = (np.where(np.isnan(s), chord, s) for s in (slopes[k], slopes[k + 1]))
    place = (
        (2 * u**3 - 3 * u**2 + 1) * left
        + (u**3 - 2 * u**2 + u) * step * before
        + (3 * u**2 - 2 * u**3) * right
        + (u**3 - u**2) * step * after
    )
    velocity = (1 - u) * before + u * after
    place[np.isnan(at)] = np.nan
    # On a frame itself the missing neighbour does not matter.
    return np.where(u == 0.0, left, place), np.where(np.isnan(velocity), 0.0, velocity)
