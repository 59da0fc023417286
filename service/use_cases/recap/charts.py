"""Which faults a recap follows from lesson to lesson."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from typing import Final

from service.analysis.faults import CATALOGUE
from service.analysis.types import Finding, Status
from service.lessons import (
    FaultProgress,
    MeasureProgress,
    Progress,
    Story,
    Trend,
    follow_up,
)
from service.report.recap import Changes, Charted
from service.report.vague import is_vague
from service.use_cases.history import in_parts
from service.use_cases.recap.visits import Visit

_MOST_CHARTS: Final[int] = 4
_THERE: Final = (Trend.NEW, Trend.PERSISTING, Trend.RELAPSE)


def charts_of(progress: Progress, story: Story, changes: Changes) -> tuple[Charted, ...]:
    """The priorities, what changed, and what else was ever there, over lessons."""
    named = [p.finding.fault for p in story.priorities]
    named += [change.fault for _, change in changes.clear]
    named += [f.fault for f in progress.faults if f.since is not None]
    faults = {f.fault: f for f in progress.faults}
    charts = []
    for name in dict.fromkeys(named):
        leading = {cs[0].measure.name for cs in CATALOGUE[name].criteria.values()}
        told = [_told(m) for m in progress.measures if m.name in leading]
        followed = [m for m in told if len(m.points) > 1]
        measures = [m for m in followed if _decided(faults[name], m)]
        if measures and not any(p.settled.coachs_own for p in faults[name].points):
            best = max(measures, key=lambda m: (_decided(faults[name], m), len(m.points)))
            charts.append(Charted(faults[name], best))
    return tuple(charts[:_MOST_CHARTS])


def turned_in(progress: Progress, visit: Visit, trend: Trend) -> tuple[str, ...]:
    """Faults of which a trend is true since a visit and was not before it."""
    day = visit.lesson.date
    return tuple(
        f.fault
        for f in progress.faults
        if f.trend is trend and f.last_told and f.since and f.since.date() == day
    )


def lost_sight_of(progress: Progress, settled: Sequence[Finding]) -> tuple[str, ...]:
    """Faults that were there when they could last be told, of which the last swings don't tell."""
    untold = {f.fault for f in settled if not f.status.is_decided}
    there = (f.fault for f in progress.faults if f.trend in _THERE and not f.last_told)
    return tuple(fault for fault in there if fault in untold)


def gone_since(progress: Progress, visit: Visit) -> tuple[str, ...]:
    """Faults of the visit before that no part of this one shows; what went within a visit is a
    matter of its own swings before and after."""
    day = visit.lesson.date
    found = {
        f.fault
        for f in progress.faults
        for point in f.points
        if point.date.date() == day and point.settled.status is Status.PRESENT
    }
    return tuple(f for f in turned_in(progress, visit, Trend.GONE) if f not in found)


def progress_over(visits: Sequence[Visit]) -> Progress:
    """Progress over the visits; those of one day are told apart by two seconds."""
    return follow_up(
        [
            part
            for number, visit in enumerate(visits)
            for part in in_parts(_moment_of(visit) + timedelta(seconds=2 * number), visit.swings)
        ]
    )


def _moment_of(visit: Visit) -> datetime:
    return datetime.combine(visit.lesson.date, time(), UTC)


def _told(measure: MeasureProgress) -> MeasureProgress:
    """Without lessons in which it was measured too vaguely to tell anything."""
    points = (
        p
        for p in measure.points
        if not is_vague(measure.name, measure.unit, p.estimate.uncertainty)
    )
    return replace(measure, points=tuple(points))


def _decided(fault: FaultProgress, measure: MeasureProgress) -> int:
    """In how many lessons the fault was told from the view of a measure."""
    return sum(point.status_from(measure.view).is_decided for point in fault.points)
