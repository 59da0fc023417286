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
from service.analysis.pose.points import N_POINTS
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
