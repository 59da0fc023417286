"""A swing along its position coordinate: the curve, the grid, and what is sampled on it."""

from service.analysis.events.normalized.curve import PhaseCurve, phase_curve
from service.analysis.events.normalized.draws import DRAW_SEED, N_DRAWS, unit_draws
from service.analysis.events.normalized.grid import GRID, STEPS_PER_POSITION, WHOLE, grid_index
from service.analysis.events.normalized.sampling import PlacedSwing, time_normalize
from service.analysis.events.normalized.swing import (
    EVERYWHERE,
    Columns,
    NormalizedSwing,
    Places,
    blocks,
    columns_of,
)

__all__ = [
    "DRAW_SEED",
    "EVERYWHERE",
    "GRID",
    "N_DRAWS",
    "STEPS_PER_POSITION",
    "WHOLE",
    "Columns",
    "NormalizedSwing",
    "PhaseCurve",
    "PlacedSwing",
    "Places",
    "blocks",
    "columns_of",
    "grid_index",
    "phase_curve",
    "time_normalize",
    "unit_draws",
]
