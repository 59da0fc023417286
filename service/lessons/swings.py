"""What the swings of a lesson say together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Final

import numpy as np

from service.analysis.faults import CATALOGUE, MEASURES
from service.analysis.types import (
    Evidence,
    Finding,
    Measurement,
    Reason,
    Status,
    SwingAnalysis,
    View,
)
from service.lessons.coach.reviews import (
    COACH_UNSURE,
    NOT_JUDGED,
    coachs_own,
    decided,
    last_word,
)
from service.lessons.estimates import Values
from service.lessons.words.wording import IN_ENGLISH

_MAJORITY: Final[float] = 0.6
"""Mean chance from which swings together tell a fault that at least one of them tells; a judgement:
one doubtful swing among clear ones is not to hide what the clear ones show."""


class Part(StrEnum):
    """Which part of a lesson: as the player came, or as the player left after the work."""

    START = "start"
    END = "end"


@dataclass(frozen=True)
class Lesson:
    """The swings of one visit, or of the part of it before or after the work."""

    date: datetime
    swings: tuple[SwingAnalysis, ...]
    part: Part | None = None


@dataclass(frozen=True)
class PooledFinding:
    """What several swings together say about one fault.

    ``present`` and ``assessed`` count swings, ``views`` are those from which they say it.
    ``confidence`` is as in :class:`~service.analysis.types.Finding`. ``reason`` is given when
    the fault is not assessable, and when it is uncertain because views, swings or signs disagree.
    ``by_coach`` says that a coach decided, which no view bounds and no confidence goes with, and
    ``coachs_own`` that the service found otherwise.
    """

    status: Status
    confidence: float | None
    present: int
    assessed: int
    reason: Reason | None = None
    views: frozenset[View] = frozenset()
    by_coach: bool = False
    coachs_own: bool = False


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

    Each finding gives a chance that the fault is there. Within a view the fault is present when
    their mean exceeds one half and is far enough from it to be useful. It is uncertain when one
    view shows it and another doesn't, and when one of its signs is plainly there and another
    isn't: neither "there" nor "gone" would be true. Where a coach decided on the fault in some of
    the swings, those alone count, and what the coach said in most of them.
    """
    found = [(s, f) for s in swings if (f := finding_about(s, fault)) is not None]
    findings = last_word(found)
    if findings and findings[0][1].review is not None:
        own = any(coachs_own(f) for _, f in found)
        return _pool_reviewed([f for _, f in findings], own=own)
    judged = [(s, f) for s, f in findings if f.status is not Status.NOT_ASSESSABLE]
    if not judged:
        return PooledFinding(Status.NOT_ASSESSABLE, None, 0, 0, _why_not(f for _, f in findings))
    by_view = {
        view: _pool_one_view([f for s, f in judged if s.view and s.view.value is view])
        for view in View
        if any(s.view and s.view.value is view for s, _ in judged)
    }
    whole = replace(_pool_one_view([f for _, f in judged]), views=frozenset(by_view))
    told = {view: pooled for view, pooled in by_view.items() if pooled.status.is_decided}
    statuses = {pooled.status for pooled in told.values()}
    if len(statuses) > 1:
        return replace(whole, status=Status.UNCERTAIN, reason=_one_side_only(told))
    if len(told) == 1 < len(by_view):
        (decided,) = told.values()
        return replace(
            whole,
            status=decided.status,
            confidence=decided.confidence,
            reason=None,
            views=frozenset(told),
        )
    return whole


def beyond(finding: Finding) -> tuple[bool, ...]:
    """For each piece of evidence whether its value lies on the faulty side of its threshold."""
    return tuple(e.excess > 0.0 for e in finding.evidence)


def _why_not(findings: Iterable[Finding]) -> Reason:
    """Why none could be judged: that one was filmed from the other side tells least."""
    reasons = [f.reason for f in findings if f.reason is not None]
    return min(reasons, key=lambda reason: reason.code == "view", default=NOT_JUDGED)


def _pool_reviewed(findings: Sequence[Finding], *, own: bool) -> PooledFinding:
    """What a coach said of a fault in several swings, findings being as they are told."""
    if not decided(findings[0]):
        return PooledFinding(Status.UNCERTAIN, None, 0, 0, COACH_UNSURE)
    present = sum(f.status is Status.PRESENT for f in findings)
    absent = len(findings) - present
    status, reason = Status.PRESENT if present > absent else Status.ABSENT, None
    if present == absent:
        status, reason = Status.UNCERTAIN, _COACH_DIVIDED
    everywhere = frozenset(View)
    return PooledFinding(
        status, None, present, len(findings), reason, everywhere, by_coach=True, coachs_own=own
    )


def _pool_one_view(findings: Sequence[Finding]) -> PooledFinding:
    chance = round(sum(_chance(f) for f in findings) / len(findings), 9)
    confidence = max(chance, 1.0 - chance)
    status, reason = Status.PRESENT if chance > 0.5 else Status.ABSENT, None
    if confidence < _MAJORITY or all(f.status is not status for f in findings):
        status, reason = Status.UNCERTAIN, _swings_differ(findings)
    elif status is Status.ABSENT:
        split = [why for f in findings if (why := _one_sign_only(f)) is not None]
        if 2 * len(split) > len(findings):
            status, reason = Status.UNCERTAIN, split[0]
    present = sum(f.status is Status.PRESENT for f in findings)
    return PooledFinding(status, confidence, present, len(findings), reason)


def _swings_differ(findings: Sequence[Finding]) -> Reason | None:
    """Why swings that tell plainly tell nothing together: some show the fault and some don't."""
    found = sum(f.status is Status.PRESENT for f in findings)
    missed = sum(f.status is Status.ABSENT for f in findings)
    if not found or not missed:
        return None
    return Reason("swings_differ", f"The swings differ: found in {found}, not found in {missed}.")


def _one_side_only(told: Mapping[View, PooledFinding]) -> Reason:
    found = [v for v, p in told.items() if p.status is Status.PRESENT]
    missed = [v for v, p in told.items() if p.status is Status.ABSENT]
    return Reason(
        "one_side_only",
        f"Seen from one side only: found {IN_ENGLISH.views(found)}, "
        f"not found {IN_ENGLISH.views(missed)}.",
    )


def _one_sign_only(finding: Finding) -> Reason | None:
    """Why an absent finding isn't told as absent: one of its signs is plainly there."""
    plain = [e for e in finding.evidence if _plainly(finding.fault, e)]
    rest = [e for e in finding.evidence if e not in plain]
    if finding.status is not Status.ABSENT or not plain or not rest:
        return None
    there = IN_ENGLISH.titles([e.title for e in plain])
    not_there = IN_ENGLISH.titles([e.title for e in rest])
    return Reason(
        "one_sign_only",
        f"Only one sign of it is there: {there} speaks for it, {not_there} against it.",
    )


def _plainly(fault: str, evidence: Evidence) -> bool:
    """Whether a value lies beyond its threshold by more than its error and the grey zone."""
    grey = next(
        (
            c.grey
            for criteria in CATALOGUE[fault].criteria.values()
            for c in criteria
            if c.measure.name == evidence.measure
        ),
        0.0,
    )
    return evidence.excess > max(evidence.uncertainty, grey)


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


_COACH_DIVIDED: Final = Reason(
    "coach_divided", "Your coach saw it in as many of these swings as not."
)
SPEED_MEASURES: Final[frozenset[str]] = frozenset(_speed_measures())
"""Measures that a slow rehearsal changes by being slow."""
