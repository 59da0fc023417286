"""Which fault tends to bring which: the catalogue as a directed graph."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from types import MappingProxyType
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

SPEAKS_OF: Final[Mapping[str, tuple[frozenset[str], ...]]] = MappingProxyType(
    {
        cause: tuple(frozenset(names.split()) for names in groups)
        for cause, groups in {
            "The arms were lifted at the top, so the club has only one way down.": (
                "arms_lift_at_top",
            ),
            "The hands throw the club at the ball from the top.": ("wrists_open_early",),
            "The pelvis moves toward the ball to make room for a steep club.": (
                "hips_toward_ball",
                "shaft_steep_at_top",
            ),
            "The handle rises and leaves no room for the arms to stay long.": ("handle_rise",),
            "The chest stops turning, so the arms have to pull across it.": ("chest_stall",),
            "A steep club is rescued by leaning back under it.": ("shaft_steep_at_top",),
            "The pelvis slides toward the target and the trunk stays behind.": (
                "hips_past_lead_foot",
            ),
            "The pelvis moves toward the ball and the trunk straightens up.": (
                "hips_toward_ball trunk_straightens",
            ),
            "A steep club has to be raised so as not to strike the ground.": (
                "shaft_steep_at_top",
            ),
            "The trail heel comes up early and throws the knee forward.": ("trail_heel_kick",),
            "The arms run on after the turn has stopped.": ("arms_lift_at_top",),
            "The pelvis moves toward the ball and pushes the trunk up.": ("hips_toward_ball",),
            "The club comes down steep or is thrown out early, and the trunk makes room for it.": (
                "shaft_steep_at_top wrists_open_early",
            ),
            "The club comes down steep and the pelvis moves to make room for it.": (
                "shaft_steep_at_top",
            ),
            "The upper body has drifted off the ball and the pelvis makes up for it.": (
                "upper_body_drift",
            ),
            "The change of direction is snatched.": ("hurried_transition",),
        }.items()
    }
)
"""Causes of the catalogue that speak of other faults: of each group at least one must be there."""


def likely_causes(fault: str, absent: Collection[str]) -> tuple[str, ...]:
    """What often lies behind a fault, without what speaks of faults seen to be absent.

    >>> likely_causes("hips_past_lead_foot", {"upper_body_drift"})
    ('The pelvis is pushed at the target instead of being turned.',)
    """
    gone = frozenset(absent)
    return tuple(
        cause
        for cause in CATALOGUE[fault].causes
        if not any(group <= gone for group in SPEAKS_OF.get(cause, ()))
    )
