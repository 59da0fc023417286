"""The position coordinates at which every swing is sampled."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.types import FloatArray

STEPS_PER_POSITION: Final[int] = 8
GRID: Final[FloatArray] = np.linspace(1.0, 10.0, 9 * STEPS_PER_POSITION + 1)
"""Position coordinates at which every swing is sampled, in steps of an eighth."""


WHOLE: Final[tuple[int, ...]] = tuple(range(len(GRID)))
"""Every place of the grid."""


def grid_index(position: float) -> int:
    """Index on :data:`GRID` nearest to a position coordinate.

    >>> float(GRID[grid_index(4.5)])
    4.5
    """
    return round((position - 1.0) * STEPS_PER_POSITION)
