"""Errors of keypoints and of times as they are drawn along the grid, fixed once for all."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.normalized.grid import GRID
from service.analysis.events.normalized.swing import Columns
from service.analysis.pose.points import N_POINTS
from service.analysis.types import FloatArray

_STEADY_SHARE: Final[float] = 0.3
"""Share of a keypoint's variance that stays the same all through a swing, the rest drifts within
0.15 s: measured on real swings (``python -m tests.reference.estimator.errors``)."""
N_DRAWS: Final[int] = 40
DRAW_SEED: Final[int] = 1415
"""Of 300 seeds tried on simulated clips, one whose few draws spread the measures that faults are
judged by within 15 % of what a thousand draws do, and all others within 30 %."""


def unit_draws(seed: int, *shape: int) -> FloatArray:
    """Standard normal draws of shape (N_DRAWS, *shape), each with its opposite.

    Fixed, so that the same clip gets the same answer; in pairs, so that what noise does to a
    measure on average is told apart from what a few draws happen to do. Where the draws are
    enough for it, no two of the ``shape`` numbers go together and each spreads by exactly one.
    """
    half = np.random.default_rng(seed).standard_normal((N_DRAWS // 2, *shape))
    if half[0].size <= len(half):
        square, _ = np.linalg.qr(half.reshape(len(half), -1))
        half = np.sqrt(len(half)) * square.reshape(half.shape)
    return np.concatenate([half, -half])


_DRAWS: Final[FloatArray] = unit_draws(DRAW_SEED, N_POINTS, 10, 2).swapaxes(0, 1)
"""Unit keypoint errors at P1 to P10."""
_STEADY_DRAWS: Final[FloatArray] = unit_draws(DRAW_SEED + 1, N_POINTS, 1, 2).swapaxes(0, 1)
TIME_DRAWS: Final[FloatArray] = unit_draws(DRAW_SEED + 2, 10)


def _shares() -> FloatArray:
    """Shares of P1 to P10 at each place of the grid, shape (10, n_grid)."""
    lower = np.minimum((GRID - 1.0).astype(np.intp), 8)
    share, places = GRID - 1.0 - lower, np.arange(len(GRID))
    shares = np.zeros((10, len(GRID)))
    shares[lower, places], shares[lower + 1, places] = 1.0 - share, share
    # Dividing keeps the spread of the mix what it is at the positions themselves.
    return shares / np.hypot(1.0 - share, share)


SHARES: Final[FloatArray] = _shares()
"""Draws at P1 to P10 times this are draws along the grid."""
_ALONG_GRID: Final[FloatArray] = np.ascontiguousarray(
    np.sqrt(1.0 - _STEADY_SHARE) * (np.moveaxis(_DRAWS, -1, 1) @ SHARES)
    + np.sqrt(_STEADY_SHARE) * np.moveaxis(_STEADY_DRAWS, -1, 1)
)
"""Unit keypoint errors on the grid, shape (N_POINTS, 2, N_DRAWS, n_grid)."""
_AT_ADDRESS: Final[FloatArray] = np.sqrt(1.0 - _STEADY_SHARE) * np.moveaxis(
    _DRAWS[..., 0, :], -1, 1
)
"""What of these drifts at P1, shape (N_POINTS, 2, N_DRAWS)."""


@lru_cache(maxsize=16)
def unit_errors(columns: Columns) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
    """Unit keypoint errors, shape (n_columns, 2, N_DRAWS); what of them drifts at P1, shape
    (n_at_address, 2, N_DRAWS), and which columns these are."""
    address = np.flatnonzero(columns.places == 0)
    along_grid = np.ascontiguousarray(_ALONG_GRID[columns.points, :, :, columns.places])
    return along_grid, _AT_ADDRESS[columns.points[address]], address
