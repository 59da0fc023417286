"""Which fault tends to bring which: the catalogue as a directed graph."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from typing import Final

from service.analysis.faults import CATALOGUE, FaultDefinition


@dataclass(frozen=True)
class Link:
    """``cause`` tends to bring ``effect``; both are fault names.

    Common practice: what coaches report. No link rests on a published study.
    """

    cause: str
    effect: str


class CausalGraph:
    """The ``brings`` of a catalogue, from causes to effects.

    Raises
    ------
    ValueError
        If a fault is said to bring one that is not in the catalogue, or, by way of
        others, itself.
    """

    def __init__(self, catalogue: Collection[FaultDefinition]) -> None:
        self._effects = {d.name: d.brings for d in catalogue}
        self.links = tuple(Link(d.name, effect) for d in catalogue for effect in d.brings)
        unknown = sorted({link.effect for link in self.links} - self._effects.keys())
        if unknown:
            raise ValueError(f"brings names faults that are not in the catalogue: {unknown}")
        try:
            backwards = tuple(TopologicalSorter(self._effects).static_order())
        except CycleError as error:
            raise ValueError(f"faults bring themselves: {error.args[1]}") from error
        self.order = backwards[::-1]
        """Fault names, causes before their effects."""

    def causes(self, fault: str) -> tuple[str, ...]:
        """Faults that tend to bring this one at first hand."""
        return tuple(link.cause for link in self.links if link.effect == fault)

    def next_found(
        self, fault: str, found: Collection[str], unseen: Collection[str]
    ) -> frozenset[str]:
        """The found faults that ``fault`` brings with no other found one in between.

        A fault that could not be seen may lie in between; one seen to be absent breaks
        the chain.
        """
        reached: set[str] = set()
        for effect in self._effects[fault]:
            if effect in found:
                reached.add(effect)
            elif effect in unseen:
                reached |= self.next_found(effect, found, unseen)
        return frozenset(reached)


GRAPH: Final[CausalGraph] = CausalGraph(CATALOGUE.values())
"""The catalogue's own graph."""
