"""Swings put together by hand, for measures to be taken of."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from service.analysis.events.normalized import (
    EVERYWHERE,
    GRID,
    NormalizedSwing,
    columns_of,
)
from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import FloatArray, Position, Source, View

ALL_FOUND = tuple(Position(n, Source.OBSERVED, float(n), float(n), 0.01) for n in range(1, 11))


def end_to_end(swings: Sequence[NormalizedSwing]) -> NormalizedSwing:
    """Swings of one view and the same columns as one."""
    return NormalizedSwing(
        np.concatenate([swing.poses for swing in swings]),
        np.concatenate([swing.samples for swing in swings], axis=2),
        swings[0].columns,
        np.concatenate([swing.times for swing in swings]),
        np.concatenate([swing.missing for swing in swings]),
        swings[0].view,
    )


def everywhere(view: View, poses: FloatArray, times: FloatArray = GRID) -> NormalizedSwing:
    """A swing whose samples are told of all points all along the grid.

    Parameters
    ----------
    poses : array of shape (n_samples, N_POINTS, n_grid, 2)
    """
    columns = columns_of(EVERYWHERE, tuple(range(N_POINTS)))
    samples = np.moveaxis(poses[:, columns.points, columns.places], 0, -1)
    clock, missing = np.tile(times, (len(poses), 1)), np.isnan(poses[:1, ..., 0])
    return NormalizedSwing(poses[:1], samples, columns, clock, missing, view)


def posed(view=View.FACE_ON, times=None, **paths):
    """A swing of three equal samples whose points stand still or follow the given paths.

    A path is a point (x, y), or a function of the grid giving an array (n_grid, 2).
    """
    poses = np.full((3, N_POINTS, len(GRID), 2), np.nan)
    for name, path in paths.items():
        value = path(GRID) if callable(path) else np.asarray(path, dtype=float)
        poses[:, Point[name.upper()]] = value
    return everywhere(view, poses, GRID if times is None else times(GRID))


def moving(start, end, first, last):
    """A path that goes straight from ``start`` to ``end`` between two coordinates."""
    a, b = np.asarray(start, float), np.asarray(end, float)

    def path(grid):
        share = np.clip((grid - first) / (last - first), 0.0, 1.0)[:, None]
        return (1.0 - share) * a + share * b

    return path
