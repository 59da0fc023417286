"""P1 to P10: found by their definitions, placed anew by all that is seen of the swing."""

from service.analysis.events.positions.both_say import to_refine
from service.analysis.events.positions.placement import find_all_positions, find_positions
from service.analysis.events.positions.searches.scene import Scene

__all__ = ["Scene", "find_all_positions", "find_positions", "to_refine"]
