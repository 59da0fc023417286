"""The catalogue by name, and the side of a threshold on which a value lies."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from service.analysis import faults
from service.analysis.faults import Criterion, Direction, FaultDefinition

CATALOGUE: Final[Mapping[str, FaultDefinition]] = {d.name: d for d in faults.CATALOGUE}
"""The faults by name, in the order in which they are told."""


def excess(criterion: Criterion, value: float) -> float:
    """How far a value lies beyond the threshold, positive where it speaks for the fault."""
    beyond = value - criterion.threshold
    return beyond if criterion.direction is Direction.ABOVE else -beyond
