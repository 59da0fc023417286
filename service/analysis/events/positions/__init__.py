"""P1 to P10: found by their definitions, placed anew by all that is seen of the swing."""

from service.analysis.events.positions.placement import find_positions, to_refine

__all__ = ["find_positions", "to_refine"]
