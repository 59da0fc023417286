"""How long the parts of a swing take."""

from __future__ import annotations

from dataclasses import dataclass

from service.analysis.types import Intent


@dataclass(frozen=True)
class Tempo:
    """Durations in seconds of backswing (P1-P4), downswing (P4-P7) and follow-through (P7-P10).

    The default is the three to one of skilled players: about 0.75 s back and 0.25 s down.

    References
    ----------
    [grober2006]
    """

    backswing: float = 0.75
    downswing: float = 0.25
    through: float = 0.50

    def __post_init__(self) -> None:
        if min(self.backswing, self.downswing, self.through) <= 0:
            raise ValueError(f"tempo durations must be positive, got {self}")

    def slowed(self, factor: float) -> Tempo:
        """The same tempo played ``factor`` times slower."""
        return Tempo(self.backswing * factor, self.downswing * factor, self.through * factor)

    def hurried(self, amount: float) -> Tempo:
        """Less time back and a little more down: at 1 the ratio is 0.56 of what it was."""
        share = 0.56**amount
        return Tempo(self.backswing * share**0.75, self.downswing * share**-0.25, self.through)


def usual_tempo(intent: Intent) -> Tempo:
    """Usual tempo of an intent; a rehearsal is slower and more even (common practice)."""
    if intent is Intent.REHEARSAL:
        return Tempo(backswing=1.5, downswing=0.75, through=1.2)
    return Tempo()
