"""What an analysis by another version says otherwise of the same swings, fault by fault."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

from service.analysis.faults import CATALOGUE, title_of

MOST_EXAMPLES: Final[int] = 3
NOT_SAID: Final[str] = "not_said"
"""Stands for the status of a fault that one of the two says nothing of."""


@dataclass
class Change:
    """Swings in which a fault went from one status to another."""

    fault: str
    before: str
    after: str
    count: int = 0
    examples: list[str] = field(default_factory=list)

    @property
    def title(self) -> str:
        """The fault in words; its name where the catalogue no longer has it."""
        return title_of(self.fault)


class Changes:
    """Changes gathered swing by swing.

    Attributes
    ----------
    swings
        Swings that both analyses speak of.
    findings, same
        Faults that either speaks of in them, and those of which both say the same.
    """

    def __init__(self) -> None:
        self._changes: dict[tuple[str, str, str], Change] = {}
        self.swings = self.findings = self.same = 0

    def add(self, swing: str, before: dict[str, str], after: dict[str, str]) -> None:
        """Add one swing.

        Parameters
        ----------
        swing
            What names it to the reader.
        before, after
            Status by fault; empty where no swing was found.
        """
        self.swings += 1
        for fault in {**before, **after}:
            then, now = before.get(fault, NOT_SAID), after.get(fault, NOT_SAID)
            self.findings += 1
            if then == now:
                self.same += 1
                continue
            change = self._changes.setdefault((fault, then, now), Change(fault, then, now))
            change.count += 1
            if len(change.examples) < MOST_EXAMPLES:
                change.examples.append(swing)

    def __iter__(self) -> Iterator[Change]:
        """By fault as the catalogue has them, the commonest first."""
        place = {name: number for number, name in enumerate(CATALOGUE)}

        def order(change: Change) -> tuple[int, str, int, str, str]:
            known = place.get(change.fault, len(place))
            return known, change.fault, -change.count, change.before, change.after

        return iter(sorted(self._changes.values(), key=order))
