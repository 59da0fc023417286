"""A lesson's recap put together from its swings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from sqlalchemy.orm import Session

from service.analysis.faults import CATALOGUE, CAUTIONS
from service.analysis.types import Club, Finding, Intent, Level, Remark, Status, View
from service.lessons import (
    Comparison,
    FaultChange,
    Lesson,
    LessonSwing,
    Progress,
    Story,
    Transfer,
    Verdict,
    build_story,
    compare,
    follow_up,
    pool_findings,
    transfer_to_full_speed,
)
from service.records import Provenance, Role, lessons, players
from service.report.frames import Filmed, PositionNotShown, frame_of
from service.report.recap import Charted, Pictured, Recap, RecapSwing, Shown
from service.use_cases.history import StoredSwing, player_history

_MOST_PICTURES: Final[int] = 4
_MOST_CHARTS: Final[int] = 4
_PLAIN: Final = (Status.PRESENT, Status.ABSENT, Status.NOT_ASSESSABLE)


@dataclass(frozen=True)
class VisitSwing:
    """A swing of a visit: which part it played, and the clip with what was found."""

    id: str
    role: Role
    club: Club | None
    intent: Intent
    clip: Filmed
    made_by: Provenance

    @property
    def view(self) -> View | None:
        """Where the camera stood; ``None`` without a swing in the clip."""
        view = self.clip.analysis.view
        return view.value if view else None

    @property
    def shown(self) -> Shown:
        """The swing as pictures take it."""
        return Shown(self.id, self.clip)

    @property
    def seen(self) -> LessonSwing:
        """The swing as comparisons take it."""
        return LessonSwing(self.clip.analysis, self.intent)


@dataclass(frozen=True)
class Visit:
    """A lesson with its swings in the order of recording."""

    date: date
    title: str | None
    coach_note: str | None
    swings: tuple[VisitSwing, ...]

    def full_speed(self, role: Role | None = None) -> list[VisitSwing]:
        """Swings found at full speed, in some role or in any."""
        return [
            s
            for s in self.swings
            if s.view and s.intent is Intent.FULL_SPEED and role in (None, s.role)
        ]

    def final(self) -> list[VisitSwing]:
        """What the player does when leaving: the swings after, without them all at full speed."""
        return self.full_speed(Role.AFTER) or self.full_speed()

    def rehearsals(self) -> list[VisitSwing]:
        """Slow rehearsals."""
        return [s for s in self.swings if s.view and s.intent is Intent.REHEARSAL]


@dataclass(frozen=True)
class _Sides:
    """What is held against what."""

    words: str | None
    before: Sequence[VisitSwing]
    after: Sequence[VisitSwing]

    def views(self) -> list[View]:
        """Views from which both sides are seen."""
        return [v for v in View if _from(self.before, v) and _from(self.after, v)]


def build_recap(session: Session, lesson_id: str) -> Recap:
    """Put a kept lesson's recap together, each swing by its newest analysis.

    Earlier lessons of the player are looked back on, later ones are not.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    """
    lesson = lessons.get(session, lesson_id)
    player = players.get(session, lesson.player_id)
    visits = []
    for each, swings in player_history(session, lesson.player_id):
        stored = tuple(_visit_swing(swing) for swing in swings)
        visits.append(Visit(each.date, each.title, each.coach_note, stored))
        if each.id == lesson_id:
            break
    return recap_of(player.name, visits)


def recap_of(player: str, visits: Sequence[Visit]) -> Recap:
    """Put the recap of a player's last visit together.

    What to work on follows from the swings after the work, or from all at full speed
    where none is marked so. Before is held against after; without the two, this visit
    against the one before.

    Parameters
    ----------
    visits
        Oldest first, at least one.
    """
    visit = visits[-1]
    sides = _sides(visits)
    settled = settled_findings([s.seen for s in visit.final()])
    story = build_story(settled)
    comparisons = tuple(_compare(sides, view) for view in sides.views())
    transfers = tuple((v, t) for v in sides.views() for t in _transfers(sides, visit, v))
    final = visit.final()
    return Recap(
        player=player,
        date=visit.date,
        title=visit.title,
        coach_note=visit.coach_note,
        swings=tuple(
            RecapSwing(s.id, s.role.value, s.view, s.intent, s.club) for s in visit.swings
        ),
        story=story,
        compared=sides.words if comparisons else None,
        comparisons=comparisons,
        transfers=transfers,
        pictures=_pictures(story, comparisons, sides, final),
        strip=_most_telling(final),
        charts=_charts(_progress(visits), story, comparisons),
        cautions=_cautions(story),
        uncertain=tuple(f for f in settled if f.status not in _PLAIN),
        remarks=_remarks(visit),
        made_by=_makers(visit.swings),
    )


def settled_findings(swings: Sequence[LessonSwing]) -> list[Finding]:
    """For every fault the most confident of the findings that say what the swings together do.

    With no such finding it is the most confident of all. Where none could be judged, what
    was filmed from the right view says best why.
    """
    chosen = []
    for name in CATALOGUE:
        findings = [f for f in (s.finding(name) for s in swings) if f is not None]
        status = pool_findings(swings, name).status
        agreeing = [f for f in findings if f.status is status] or findings
        if agreeing:
            chosen.append(max(agreeing, key=_telling))
    return chosen


def _telling(finding: Finding) -> tuple[float, bool]:
    wrong_view = finding.reason is not None and finding.reason.code == "view"
    return finding.confidence or 0.0, not wrong_view


def _visit_swing(stored: StoredSwing) -> VisitSwing:
    meta = stored.meta
    return VisitSwing(meta.id, meta.role, meta.club, meta.intent, stored, stored.kept.made_by)


def _sides(visits: Sequence[Visit]) -> _Sides:
    visit = visits[-1]
    before, after = visit.full_speed(Role.BEFORE), visit.full_speed(Role.AFTER)
    if before and after:
        return _Sides("the start of this lesson against its end", before, after)
    earlier = next((v for v in reversed(visits[:-1]) if v.final()), None)
    if earlier is None:
        return _Sides(None, (), ())
    day = f"{earlier.date.day} {earlier.date:%B %Y}"
    return _Sides(f"the lesson of {day} against this one", earlier.final(), visit.final())


def _from(swings: Iterable[VisitSwing], view: View) -> list[LessonSwing]:
    return [s.seen for s in swings if s.view is view]


def _compare(sides: _Sides, view: View) -> Comparison:
    return compare(_from(sides.before, view), _from(sides.after, view))


def _transfers(sides: _Sides, visit: Visit, view: View) -> list[Transfer]:
    """What became of the faults that were there before, where a rehearsal was to change them."""
    rehearsals = _from(visit.rehearsals(), view)
    if not rehearsals:
        return []
    before = _from(sides.before, view)
    transfers = transfer_to_full_speed(before, rehearsals, _from(sides.after, view))
    return [t for t in transfers if pool_findings(before, t.fault).status is Status.PRESENT]


def _pictures(
    story: Story,
    comparisons: Sequence[Comparison],
    sides: _Sides,
    final: Sequence[VisitSwing],
) -> tuple[Pictured, ...]:
    """The priorities where they show most, then what got better or worse."""
    wanted = [(p.finding.title, p.check.views, p.check.position) for p in story.priorities]
    wanted += [
        (change.title, (comparison.view,), _place(change.fault, comparison))
        for comparison, change in _changed(comparisons)
    ]
    pictures: dict[str, Pictured] = {}
    for title, views, position in wanted:
        pictured = _pictured(title, views, position, sides, final)
        if pictured is not None:
            pictures.setdefault(title, pictured)
    return tuple(pictures.values())[:_MOST_PICTURES]


def _most_telling(swings: Sequence[VisitSwing]) -> Shown | None:
    """The last of the swings, face-on where there is one: more of it is seen from there."""
    face_on = [s for s in swings if s.view is View.FACE_ON]
    return next((s.shown for s in reversed(face_on or swings)), None)


def _changed(comparisons: Sequence[Comparison]) -> list[tuple[Comparison, FaultChange]]:
    return [
        (comparison, change)
        for comparison in comparisons
        for change in comparison.faults
        if change.verdict in (Verdict.BETTER, Verdict.WORSE)
    ]


def _place(fault: str, comparison: Comparison) -> float:
    """Where to look for a fault that need not be there any more."""
    definition = CATALOGUE[fault]
    measure = definition.criteria[comparison.view][0].measure
    return definition.shows_at or 0.5 * (measure.start + measure.end)


def _pictured(
    title: str,
    views: Sequence[View],
    position: float,
    sides: _Sides,
    final: Sequence[VisitSwing],
) -> Pictured | None:
    for view in views:
        after = _showing(sides.after or final, view, position)
        if after is not None:
            return Pictured(title, view, position, _showing(sides.before, view, position), after)
    return None


def _showing(swings: Sequence[VisitSwing], view: View, position: float) -> Shown | None:
    """The last of the swings seen from a view that shows a position."""
    for swing in reversed(swings):
        try:
            if swing.view is view:
                frame_of(swing.clip.analysis, position)
                return swing.shown
        except PositionNotShown:
            continue
    return None


def _progress(visits: Sequence[Visit]) -> Progress:
    """Progress over the visits; those of one day are told apart by a second."""
    return follow_up(
        [
            Lesson(
                datetime.combine(visit.date, time(), UTC) + timedelta(seconds=number),
                tuple(s.seen for s in visit.swings),
            )
            for number, visit in enumerate(visits)
        ]
    )


def _charts(
    progress: Progress, story: Story, comparisons: Sequence[Comparison]
) -> tuple[Charted, ...]:
    """The priorities, what changed, and what else was ever there, over lessons."""
    named = [p.finding.fault for p in story.priorities]
    named += [change.fault for _, change in _changed(comparisons)]
    named += [f.fault for f in progress.faults if f.since is not None]
    faults = {f.fault: f for f in progress.faults}
    charts = []
    for name in dict.fromkeys(named):
        leading = {cs[0].measure.name for cs in CATALOGUE[name].criteria.values()}
        measures = [m for m in progress.measures if m.name in leading and len(m.points) > 1]
        if measures:
            longest = max(measures, key=lambda m: len(m.points))
            charts.append(Charted(faults[name], longest))
    return tuple(charts[:_MOST_CHARTS])


def _cautions(story: Story) -> tuple[str, ...]:
    told = [c for p in story.priorities for c in p.cautions]
    return tuple(dict.fromkeys((*told, *CAUTIONS)))


def _remarks(visit: Visit) -> tuple[Remark, ...]:
    remarks = (r for s in visit.swings for r in s.clip.analysis.quality.remarks)
    return tuple({r.code: r for r in remarks if r.level is Level.WARNING}.values())


def _makers(swings: Iterable[VisitSwing]) -> tuple[str, ...]:
    makers = dict.fromkeys(s.made_by for s in swings)
    return tuple(f"service {m.service}, {_model_in_words(m)}" for m in makers)


def _model_in_words(maker: Provenance) -> str:
    return "rules alone" if maker.model is None else f"model {maker.model}"
