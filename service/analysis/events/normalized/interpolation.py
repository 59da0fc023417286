"""Points between frames, and how fast they move."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.types import FloatArray

_AROUND: Final[NDArray[np.intp]] = np.arange(-1, 3)[:, None]
NO_TIME: Final[float] = 1e-9
"""Seconds between a frame and itself, so that nothing is divided by zero."""


def sample(
    paths: Sequence[FloatArray], clocks: Sequence[FloatArray], at: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Points and their velocities at arbitrary times, by cubic Hermite interpolation.

    Parameters
    ----------
    paths : of each swing an array of shape (2, n_points, n_frames)
    clocks : of each swing an array of shape (n_frames,)
    at : array of shape (n_swings, n_grid)

    Returns
    -------
    two arrays of shape (n_swings, 2, n_points, n_grid); NaN where a point is missing next to the
    time asked for, where the velocity is 0.
    """
    lost = np.isnan(at)
    begin = np.array([clock[0] for clock in clocks])[:, None]
    wanted = np.where(lost, begin, at)
    frames = [_frames_about(*each) for each in zip(clocks, wanted, strict=True)]
    around = np.array([path.take(own, axis=2) for path, own in zip(paths, frames, strict=True)])
    moments = np.array([clock.take(own) for clock, own in zip(clocks, frames, strict=True)])
    moments, u = moments[:, None, None], wanted[:, None, None]
    steps = np.maximum(moments[..., 1:, :] - moments[..., :-1, :], NO_TIME)
    slopes = (around[..., 1:, :] - around[..., :-1, :]) / steps
    chord, step = slopes[..., 1, :], steps[..., 1, :]
    # Beyond either end of the clip an outer frame falls on its neighbour.
    alone = steps == NO_TIME
    before = _between(slopes[..., 0, :], chord, steps[..., 0, :], step)
    before = np.where(np.isnan(before) | alone[..., 0, :], chord, before)
    after = _between(chord, slopes[..., 2, :], step, steps[..., 2, :])
    after = np.where(np.isnan(after) | alone[..., 2, :], chord, after)
    left, right = around[..., 1, :], around[..., 2, :]
    u = (u - moments[..., 1, :]) / step
    v = 1.0 - u
    place = (1 + 2 * u) * v**2 * left + u * v**2 * step * before
    place += u**2 * (3 - 2 * u) * right - u**2 * v * step * after
    velocity = v * before + u * after
    # On a frame itself the missing neighbour does not matter.
    place = np.where(u == 0.0, left, place)
    place = np.where(lost[:, None, None], np.nan, place)
    return place, np.where(np.isnan(velocity), 0.0, velocity)


def _frames_about(clock: FloatArray, at: FloatArray) -> NDArray[np.intp]:
    """Two frames before and two after each time, shape (4, n_at); at the ends of the clip an outer
    one falls on its neighbour."""
    last = len(clock) - 1
    k = np.minimum(np.maximum(clock.searchsorted(at, side="right") - 1, 0), last - 1)
    return np.minimum(np.maximum(k + _AROUND, 0), last)


def _between(
    slope: FloatArray, slope_on: FloatArray, step: FloatArray, step_on: FloatArray
) -> FloatArray:
    """Slope at the frame between two steps of time, the slope over the shorter counting more."""
    share = step / (step + step_on)
    return (1.0 - share) * slope + share * slope_on
