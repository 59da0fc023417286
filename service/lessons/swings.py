"""What the swings of a lesson say together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np

from service.analysis.faults import CATALOGUE, MEASURES
from service.analysis.types import Finding, Measurement, Reason, Status, SwingAnalysis
from service.lessons.estimates import Values


@dataclass(frozen=True)
class Lesson:
    """The swings of one visit."""

    date: datetime
    swings: tuple[SwingAnalysis, ...]


@dataclass(frozen=True)
class PooledFinding:
    """What several swings together say about one fault.

    ``present`` and ``assessed`` count swings. ``confidence`` and ``reason`` are as in
    :class:`~service.analysis.types.Finding`.
    """

    status: Status
    confidence: float | None
    present: int
    assessed: int
    reason: Reason | None = None


def measurement(swing: SwingAnalysis, name: str) -> Measurement | None:
    """One measure; ``None`` if the analysis did not know it."""
    return next((m for m in swing.measures if m.name == name), None)


def finding_about(swing: SwingAnalysis, fault: str) -> Finding | None:
    """The finding about one fault; ``None`` if the analysis did not know it."""
    return next((f for f in swing.findings if f.fault == fault), None)


def values_of(measure: str, swings: Iterable[SwingAnalysis]) -> Values | None:
    """A measure over those of the swings in which it was taken; ``None`` if in none."""
    taken = [measurement(s, measure) for s in swings]
    pairs = [(t.value, t.uncertainty or 0.0) for t in taken if t and t.value is not None]
    return Values(*np.array(pairs).T) if pairs else None


def pool_findings(swings: Sequence[SwingAnalysis], fault: str) -> PooledFinding:
    """Pool what several swings say about one fault: a majority weighted by confidence.

    Each finding gives a chance that the fault is there, its confidence if present and
    one minus it if absent; the fault is present when their mean exceeds one half.
    """
    findings = [f for f in (finding_about(s, fault) for s in swings) if f is not None]
    chances = [_chance(f) for f in findings if f.status is not Status.NOT_ASSESSABLE]
    if not chances:
        reason = next((f.reason for f in findings if f.reason is not None), _NOT_JUDGED)
        return PooledFinding(Status.NOT_ASSESSABLE, None, 0, 0, reason)
    chance = sum(chances) / len(chances)
    return PooledFinding(
        Status.PRESENT if chance > 0.5 else Status.ABSENT,
        max(chance, 1.0 - chance),
        sum(f.status is Status.PRESENT for f in findings),
        len(chances),
    )


def _chance(finding: Finding) -> float:
    if finding.chance is not None:
        return finding.chance
    confidence = finding.confidence if finding.confidence is not None else 1.0
    return confidence if finding.status is Status.PRESENT else 1.0 - confidence


def _speed_measures() -> Iterable[str]:
    yield from (m.name for m in MEASURES if m.unit == "seconds")
    for definition in CATALOGUE.values():
        if definition.full_speed_only:
            for criteria in definition.criteria.values():
                yield from (c.measure.name for c in criteria)


_NOT_JUDGED: Final = Reason("not_judged", "This fault was not judged in these swings.")
SPEED_MEASURES: Final[frozenset[str]] = frozenset(_speed_measures())
"""Measures that a slow rehearsal changes by being slow."""
