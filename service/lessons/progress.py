"""A player's faults and measures over lessons, and what has come back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from itertools import groupby

from service.analysis.faults import CATALOGUE, MEASURES, FaultDefinition
from service.analysis.measures.definition import Measure
from service.analysis.types import Intent, Status, SwingAnalysis, View
from service.lessons.estimates import Estimate, Values, pool, spread_between_swings, unwrapped
from service.lessons.swings import Lesson, Part, PooledFinding, pool_findings, values_of


class Trend(StrEnum):
    """What became of a fault up to the last lesson in which it could be judged."""

    NEVER_SEEN = "never_seen"
    NEW = "new"
    PERSISTING = "persisting"
    GONE = "gone"
    RELAPSE = "relapse"


@dataclass(frozen=True)
class MeasurePoint:
    """A measure in one lesson, or in a part of it."""

    date: datetime
    estimate: Estimate
    part: Part | None = None


@dataclass(frozen=True)
class MeasureProgress:
    """A measure over lessons, as seen from one view, oldest first.

    Lessons in which it was not measured are left out.
    """

    name: str
    title: str
    unit: str
    view: View
    points: tuple[MeasurePoint, ...]


@dataclass(frozen=True)
class FaultPoint:
    """A fault in one lesson, or in a part of it; ``by_view`` is what each view alone says."""

    date: datetime
    settled: PooledFinding
    part: Part | None = None
    by_view: Mapping[View, Status] = field(default_factory=dict)

    def status_from(self, view: View) -> Status:
        """What stands beside a value measured from a view: what was seen from there."""
        if self.settled.by_coach:
            return self.settled.status
        return self.by_view.get(view, Status.NOT_ASSESSABLE)


@dataclass(frozen=True)
class FaultProgress:
    """A fault over all lessons, oldest first.

    ``trend`` is what the last lesson in which it could be told says, ``None`` where none could;
    ``last_told`` says whether that is the last lesson of all. ``since`` is the lesson in which
    its present status began: for a relapse the one in which the fault was first back, for
    one gone the first without it; ``None`` for one never seen.
    """

    fault: str
    title: str
    points: tuple[FaultPoint, ...]
    trend: Trend | None
    since: datetime | None
    last_told: bool = True


@dataclass(frozen=True)
class Progress:
    """Everything followed over a player's lessons."""

    measures: tuple[MeasureProgress, ...]
    faults: tuple[FaultProgress, ...]


def follow_up(lessons: Sequence[Lesson]) -> Progress:
    """Follow every fault and measure over a player's lessons.

    Only swings at full speed count: a rehearsal shows what the player can do, not what
    the player does. A lesson's value is the mean of its swings weighted by precision; its
    uncertainty includes the spread from swing to swing, told from all lessons together
    once there are repeats enough. Clips without a swing are passed over.

    Parameters
    ----------
    lessons
        In any order.
    """
    in_order = [
        replace(lesson, swings=tuple(s for s in lesson.swings if _counts(s)))
        for lesson in sorted(lessons, key=lambda lesson: lesson.date)
    ]
    measures = (_follow_measure(m, view, in_order) for m in MEASURES for view in m.views)
    return Progress(
        tuple(m for m in measures if m.points),
        tuple(_follow_fault(d, in_order) for d in CATALOGUE.values()),
    )


def _counts(swing: SwingAnalysis) -> bool:
    return swing.swing_found and swing.intent is Intent.FULL_SPEED


def _follow_measure(measure: Measure, view: View, lessons: Sequence[Lesson]) -> MeasureProgress:
    taken = [(lesson, _values(measure, view, lesson)) for lesson in lessons]
    shown = [lesson for lesson, values in taken if values is not None]
    groups = unwrapped([values for _, values in taken if values is not None], measure.unit)
    spread = spread_between_swings(groups)
    points = tuple(
        MeasurePoint(lesson.date, pool(group, spread), lesson.part)
        for lesson, group in zip(shown, groups, strict=True)
    )
    return MeasureProgress(measure.name, measure.title, measure.unit, view, points)


def _values(measure: Measure, view: View, lesson: Lesson) -> Values | None:
    return values_of(measure.name, _from(view, lesson))


def _from(view: View, lesson: Lesson) -> list[SwingAnalysis]:
    return [s for s in lesson.swings if s.view and s.view.value is view]


def _follow_fault(definition: FaultDefinition, lessons: Sequence[Lesson]) -> FaultProgress:
    points = tuple(
        FaultPoint(
            lesson.date,
            pool_findings(lesson.swings, definition.name),
            lesson.part,
            {v: pool_findings(_from(v, lesson), definition.name).status for v in definition.views},
        )
        for lesson in lessons
    )
    telling = _telling(points)
    trend, since = _trend(telling)
    return FaultProgress(
        definition.name,
        definition.title,
        points,
        trend,
        since,
        last_told=bool(telling) and telling[-1] is points[-1],
    )


def _telling(points: Sequence[FaultPoint]) -> list[FaultPoint]:
    """The points that say something about what became of the fault.

    What was found from one view and is not found from another is not gone, and what was not
    found from another view before is not new.
    """
    kept: list[FaultPoint] = []
    for point in (p for p in points if p.settled.status.is_decided):
        found = [k for k in kept if k.settled.status is Status.PRESENT]
        lost = found and point.settled.status is Status.ABSENT
        if not lost or _share_a_view(point, found[-1]):
            kept.append(point)
    return [k for k in kept if k.settled.status is Status.PRESENT or _share_a_view(k, kept[-1])]


def _share_a_view(one: FaultPoint, other: FaultPoint) -> bool:
    return bool(one.settled.views & other.settled.views)


def _trend(telling: Sequence[FaultPoint]) -> tuple[Trend | None, datetime | None]:
    if not telling:
        return None, None
    runs = [list(run) for _, run in groupby(telling, key=lambda p: p.settled.status)]
    last, since = runs[-1], runs[-1][0].date
    seen_before = any(run[0].settled.status is Status.PRESENT for run in runs[:-1])
    if last[0].settled.status is Status.ABSENT:
        return (Trend.GONE, since) if seen_before else (Trend.NEVER_SEEN, None)
    if seen_before:
        return Trend.RELAPSE, since
    return (Trend.NEW if len(last) == 1 else Trend.PERSISTING), since
