"""P1 to P10: found by their definitions, placed anew by what is seen beside them."""

from service.analysis.events.positions.placement import (
    club_seen,
    find_positions,
    position_marks,
    to_refine,
)

__all__ = ["club_seen", "find_positions", "position_marks", "to_refine"]
