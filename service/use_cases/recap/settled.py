"""What the swings of a lesson say together, one finding a fault."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from service.analysis.faults import CATALOGUE
from service.analysis.types import Finding, Status, SwingAnalysis
from service.lessons import (
    PooledFinding,
    finding_about,
    pool_findings,
)
from service.lessons.coach.reviews import as_told, last_word, sureness
from service.records import KeptSwing


def settled_findings(swings: Sequence[SwingAnalysis]) -> list[Finding]:
    """For every fault the most confident of the findings that say what the swings together do.

    With no such finding it is the most confident of all, made uncertain where the swings
    together are. Where none could be judged, what was filmed from the right view says best why.
    """
    chosen = []
    for name in CATALOGUE:
        found = [(s, f) for s in swings if (f := finding_about(s, name)) is not None]
        findings = [finding for _, finding in last_word(found)]
        pooled = pool_findings(swings, name)
        agreeing = [f for f in findings if f.status is pooled.status] or findings
        if agreeing:
            chosen.append(_as_pooled(max(agreeing, key=_telling), pooled))
    return chosen


def _as_pooled(finding: Finding, pooled: PooledFinding) -> Finding:
    """A finding as uncertain as the swings together are; otherwise as it is."""
    if pooled.status is not Status.UNCERTAIN:
        return finding
    return replace(
        finding,
        status=Status.UNCERTAIN,
        confidence=pooled.confidence,
        reason=pooled.reason,
        severity=None,
        severity_unit=None,
        grade=None,
        shows_most=None,
        span=None,
    )


def now_and_then(
    swings: Sequence[SwingAnalysis], settled: Sequence[Finding]
) -> dict[str, tuple[int, int]]:
    """Faults that some of the swings show and most don't: in how many of how many."""
    absent = [f.fault for f in settled if f.status is Status.ABSENT]
    pooled = {fault: pool_findings(swings, fault) for fault in absent}
    return {
        fault: (told.present, told.assessed)
        for fault, told in pooled.items()
        if told.present and not told.by_coach
    }


def found_once(swings: Sequence[KeptSwing]) -> frozenset[str]:
    """Faults that any of the swings shows, a coach's word on it taken for what it shows."""
    findings = (as_told(f) for s in swings for f in s.analysis.findings)
    return frozenset(f.fault for f in findings if f.status is Status.PRESENT)


def _telling(finding: Finding) -> tuple[float, bool]:
    wrong_view = finding.reason is not None and finding.reason.code == "view"
    return sureness(finding), not wrong_view
