"""Swings sampled along the grid, once as found and then with drawn errors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.normalized.curve import PhaseCurve
from service.analysis.events.normalized.draws import N_DRAWS, SHARES, TIME_DRAWS, unit_errors
from service.analysis.events.normalized.elbows_together import widen_elbows
from service.analysis.events.normalized.grid import GRID
from service.analysis.events.normalized.interpolation import NO_TIME, sample
from service.analysis.events.normalized.swing import (
    EVERYWHERE,
    Columns,
    NormalizedSwing,
    Places,
    blocks,
    columns_of,
)
from service.analysis.events.normalized.unsteady_legs import unsteadiness
from service.analysis.pose.geometry import squared_length
from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import FloatArray, Position, View

_BLUR_SPEED: Final[float] = 2.5
"""Body heights a second at which motion blur adds as much error as there is at rest. A judgement:
through an estimator real wrists are off by a third more in the downswing than at the top, simulated
ones, blurred by a shutter, two to four times."""
_MOST_BLUR: Final[float] = 2.0
_MOST_BLUR_OF_CLUB: Final[float] = 3.5
"""A clubhead at speed is a streak as long as a hand (a judgement)."""
_MOST_BLURS: Final[FloatArray] = np.array(
    [_MOST_BLUR_OF_CLUB if point >= Point.GRIP_END else _MOST_BLUR for point in Point]
)
_REST: Final[float] = 0.3
"""Seconds up to P1 over which the address is averaged. Players stand still there: simulated ones by
construction; in real clips, which show hardly more, the hips keep within what their keypoints
err."""
_MEMORY: Final[float] = 0.14
"""Seconds in which a drifting error falls to 1/e: hips, knees and ankles of those real swings."""


@dataclass(frozen=True)
class PlacedSwing:
    """A swing whose positions are known.

    Attributes
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    times : array of shape (n_frames,)
    curve : PhaseCurve
    positions : P1 to P10
    noise : array of shape (n_points,)
        One standard deviation of the error of ``points`` on one axis.
    smoothed : float
        How far their source smooths them, 0 to 1, so that nothing jitters.
    """

    points: FloatArray
    times: FloatArray
    curve: PhaseCurve
    positions: tuple[Position, ...]
    noise: FloatArray
    smoothed: float = 0.0

    @cached_property
    def seen(self) -> tuple[int, ...]:
        """The points that are seen in any frame."""
        seen = np.logical_or.reduce(~np.isnan(self.points[..., 0]))
        return tuple(seen.nonzero()[0].tolist())


def time_normalize(
    swings: Sequence[PlacedSwing], view: View, drawn: Places = EVERYWHERE
) -> NormalizedSwing:
    """Sample swings on :data:`GRID`, once as found and then with drawn errors, laid end to end.

    Parameters
    ----------
    swings : those of one view that show the same points
    drawn : where the errors of which points are drawn
    """
    seen = np.array(swings[0].seen, dtype=np.intp)
    columns = columns_of(drawn, swings[0].seen)
    paths = [swing.points.take(seen, axis=1).T for swing in swings]
    grid_times = np.array([swing.curve.when(GRID) for swing in swings])
    shifts = _drawn_shifts(swings)
    best, velocity = sample(paths, [swing.times for swing in swings], grid_times)
    drift_left = np.array(
        [
            _average_address(best[k], velocity[k], path, swing.times, float(grid_times[k, 0]))
            for k, (swing, path) in enumerate(zip(swings, paths, strict=True))
        ]
    )
    noise = _as_legs_show(swings, best, seen, view)[..., None]
    error = widen_elbows(noise * _blur(velocity, seen), best, seen, view)
    samples = _draw(columns, best, velocity, shifts, error, drift_left)
    poses = np.full((len(swings), N_POINTS, 2, len(GRID)), np.nan)
    poses[:, seen] = best.swapaxes(1, 2)
    # A position that was not found must not take the times of the others along.
    times = np.fmax.accumulate(grid_times[:, None] + shifts, axis=2)
    times.swapaxes(1, 2)[np.isnan(grid_times)] = np.nan
    return NormalizedSwing(
        poses.swapaxes(2, 3),
        samples,
        columns,
        times.reshape(-1, len(GRID)),
        np.isnan(poses[:, :, 0]),
        view,
    )


def _as_legs_show(
    swings: Sequence[PlacedSwing], best: FloatArray, seen: NDArray[np.intp], view: View
) -> FloatArray:
    """One standard deviation of each point that is seen, shape (n_swings, n_seen)."""
    noise = np.array([swing.noise for swing in swings])[:, seen]
    smoothed = np.array([swing.smoothed for swing in swings])
    some = smoothed.nonzero()[0]
    if some.size:
        factor = unsteadiness(best[some], noise[some], seen, view)
        noise[some] *= (factor ** smoothed[some])[:, None]
    return noise


def _drawn_shifts(swings: Sequence[PlacedSwing]) -> FloatArray:
    """By how many seconds each sample is off along the grid, the best estimate by none; shape
    (n_swings, N_DRAWS + 1, n_grid)."""
    spread = np.array([[p.uncertainty or 0.0 for p in swing.positions] for swing in swings])
    shifts = np.zeros((len(swings), N_DRAWS + 1, len(GRID)))
    shifts[:, 1:] = (TIME_DRAWS * spread[:, None]) @ SHARES
    return shifts


def _draw(
    columns: Columns,
    best: FloatArray,
    velocity: FloatArray,
    shifts: FloatArray,
    error: FloatArray,
    drift_left: FloatArray,
) -> FloatArray:
    """The samples of :class:`NormalizedSwing`, shape (n_columns, 2, n_swings * (N_DRAWS + 1)).

    Parameters
    ----------
    best, velocity : arrays of shape (n_swings, 2, n_seen, n_grid)
    shifts : array of shape (n_swings, N_DRAWS + 1, n_grid)
    error : array of shape (n_swings, n_seen, n_grid)
        One standard deviation on one axis.
    drift_left : array of shape (n_swings,)
        Share of a drifting error that is left at address.
    """
    rows, places = columns.rows, columns.places
    samples = np.empty((len(rows), 2, len(best), N_DRAWS + 1))
    pace, pose = (each[:, :, rows, places].T[..., None] for each in (velocity, best))
    along_grid, drifting, address = unit_errors(columns)
    off = error[:, rows, places].T[:, None, :, None]
    late = np.ascontiguousarray(shifts.transpose(2, 0, 1))
    for some in blocks(samples):
        own = samples[some]
        # To first order, a moment found late shows the pose a little further along its way.
        np.multiply(pace[some], late.take(places[some], axis=0)[:, None], out=own)
        own += pose[some]
        own[..., 1:] += off[some] * along_grid[some, :, None]
    gone = (1.0 - drift_left)[:, None] * off[address]
    samples[address, ..., 1:] -= gone * drifting[:, :, None]
    return samples.reshape(len(rows), 2, -1)


def _average_address(
    best: FloatArray, velocity: FloatArray, points: FloatArray, times: FloatArray, start: float
) -> float:
    """Put the mean of the frames before P1 in the place of the pose at P1.

    What is measured against address depends on that pose as much as on the one it is held against,
    and at rest there are many frames of it.

    Parameters
    ----------
    best, velocity : arrays of shape (2, n_points, n_grid)
        Changed in place at P1, where a point is seen there: the mean goes along with P1 by the
        difference of the poses at its ends over the time between them.
    points : array of shape (2, n_points, n_frames)
    start : time of P1 in seconds, NaN where it was not found

    Returns
    -------
    What averaging leaves of the spread of a drifting error: of one with an exponential memory m,
    the mean over T has the share 2 m/T (1 - m/T (1 - exp(-T/m))) of the variance (Papoulis,
    *Probability, Random Variables, and Stochastic Processes*, from memory).
    """
    first, last = times.searchsorted([start - _REST, start - NO_TIME])
    if not first < last:  # NaN too: it sorts behind every time
        return 1.0
    frames = points[..., first:last]
    told = ~np.isnan(frames)
    ends = (best[..., 0] - frames[..., 0]) / max(start - float(times[first]), NO_TIME)
    velocity[..., 0] = np.where(np.isnan(ends), velocity[..., 0], ends)
    total = np.add.reduce(np.where(told, frames, 0.0), axis=-1) + best[..., 0]
    best[..., 0] = total / (1 + np.add.reduce(told, axis=-1))
    memories = (start - times[first]) / _MEMORY
    return float(np.sqrt(2.0 / memories * (1.0 - (1.0 - np.exp(-memories)) / memories)))


def _blur(velocity: FloatArray, points: NDArray[np.intp]) -> FloatArray:
    """Factor by which points are less well seen while they move, (n_swings, n_points, n_grid).

    ``velocity`` has shape (n_swings, 2, n_points, n_grid).
    """
    blur = np.sqrt(1.0 + squared_length(velocity.swapaxes(0, 1)) / _BLUR_SPEED**2)
    return np.minimum(blur, _MOST_BLURS[points, None])
