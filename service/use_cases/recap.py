"""A lesson's recap put together from its swings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time, timedelta
from typing import Final

from sqlalchemy.orm import Session

from service.analysis.faults import CATALOGUE, CAUTIONS
from service.analysis.types import Finding, Intent, Level, Remark, Status, SwingAnalysis, View
from service.languages import ENGLISH, Language
from service.lessons import (
    Comparison,
    FaultChange,
    FaultProgress,
    MeasureProgress,
    PooledFinding,
    Progress,
    Story,
    Transfer,
    Verdict,
    build_story,
    compare,
    finding_about,
    follow_up,
    pool_findings,
    transfer_to_full_speed,
)
from service.lessons.changes.comparison import COACHS_VIEW
from service.lessons.coach.approval import standing
from service.lessons.coach.reviews import as_told, last_word, sureness
from service.lessons.telling.wording import Wording
from service.records import KeptSwing, Lesson, Player, Provenance, Role
from service.records.keeping import lessons, players, swings
from service.report.branding import Branding
from service.report.pictures.poses import PositionNotShown, frame_of
from service.report.recap import Charted, Pictured, Recap, render_html
from service.use_cases.coach.coached import NOTHING_SAID, Coached, coach_views, coached, told_of
from service.use_cases.history import clips_of, in_parts, swings_by_lesson

MOST_SWINGS: Final[int] = 300
"""Swings that a recap looks at, of the lesson and those before it; a lesson of more is looked at
alone."""
_MOST_PICTURES: Final[int] = 4
_MOST_CHARTS: Final[int] = 4
_MOST_TO_FILM: Final[int] = 3
_TOLD: Final = (Status.PRESENT, Status.ABSENT)
_PLAIN: Final = (*_TOLD, Status.NOT_ASSESSABLE)


@dataclass(frozen=True)
class Visit:
    """A lesson with its swings in the order of recording."""

    lesson: Lesson
    swings: Sequence[KeptSwing]

    def full_speed(self, role: Role | None = None) -> list[KeptSwing]:
        """Swings found at full speed, in some role or in any."""
        return [
            s
            for s in self.swings
            if _view(s) and s.analysis.intent is Intent.FULL_SPEED and role in (None, s.meta.role)
        ]

    def final(self) -> list[KeptSwing]:
        """What the player does when leaving: the swings after, without them all at full speed."""
        return self.full_speed(Role.AFTER) or self.full_speed()

    def rehearsals(self) -> list[KeptSwing]:
        """Slow rehearsals."""
        return [s for s in self.swings if _view(s) and s.analysis.intent is Intent.REHEARSAL]


@dataclass(frozen=True)
class _Sides:
    """What is held against what."""

    words: str | None
    before: Sequence[KeptSwing]
    after: Sequence[KeptSwing]

    def views(self) -> list[View]:
        """Views from which both sides are seen."""
        return [v for v in View if _from(self.before, v) and _from(self.after, v)]


@dataclass(frozen=True)
class Look:
    """How a recap is told and what its page looks like."""

    language: Language = ENGLISH
    branding: Branding = field(default_factory=Branding)


def build_recap(session: Session, lesson_id: str, language: Language = ENGLISH) -> Recap:
    """Put a kept lesson's recap together, each swing by its newest analysis.

    Earlier lessons of the player are looked back on, as far as :data:`MOST_SWINGS` reach; later
    ones are not.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    """
    player, visits, left_out = _visits(session, lesson_id)
    said, wording = coached(session, lesson_id), Wording(language, player.height_cm)
    return recap_of(player.name, visits, said, wording, left_out)


def recap_page(session: Session, lesson_id: str, look: Look | None = None) -> str:
    """The recap as a page of HTML; only the clips that it draws are read.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    """
    look = look or Look()
    player, visits, left_out = _visits(session, lesson_id)
    said, wording = coached(session, lesson_id), Wording(look.language, player.height_cm)
    recap = recap_of(player.name, visits, said, wording, left_out)
    drawn = [s for visit in visits for s in visit.swings if s.id in recap.drawn]
    return render_html(recap, clips_of(session, drawn), look.branding)


def _visits(session: Session, lesson_id: str) -> tuple[Player, list[Visit], int]:
    """The player, the lesson after those before it, and how many older ones are left out."""
    lesson = lessons.get(session, lesson_id)
    player = players.get(session, lesson.player_id)
    all_lessons = lessons.of_player(session, player.id)
    so_far = all_lessons[: all_lessons.index(lesson) + 1]
    recent = _recent(session, so_far)
    by_lesson = zip(recent, swings_by_lesson(session, recent), strict=True)
    return player, [Visit(*each) for each in by_lesson], len(so_far) - len(recent)


def _recent(session: Session, so_far: Sequence[Lesson]) -> list[Lesson]:
    """The last of the lessons, and those before it as far as their swings are not too many."""
    counts = swings.counts(session, [lesson.id for lesson in so_far])
    looked_at, kept = 0, list[Lesson]()
    for lesson in reversed(so_far):
        looked_at += counts.get(lesson.id, 0)
        if kept and looked_at > MOST_SWINGS:
            break
        kept.append(lesson)
    return kept[::-1]


def recap_of(
    player: str,
    visits: Sequence[Visit],
    said: Coached = NOTHING_SAID,
    wording: Wording | None = None,
    left_out: int = 0,
) -> Recap:
    """Put the recap of a player's last visit together.

    What to work on follows from the swings after the work, or from all at full speed
    where none is marked so. Before is held against after; without the two, this visit
    against the one before.

    Parameters
    ----------
    visits
        Oldest first, at least one.
    said
        What a coach made of the last visit's recap.
    wording
        How it is said to the player; in English to one of unknown height when ``None``.
    left_out
        How many lessons before them are not looked at, which the recap says.
    """
    wording = wording or Wording()
    visit = visits[-1]
    sides = _sides(visits, wording)
    final = visit.final()
    analyses = [s.analysis for s in final]
    settled = settled_findings(analyses)
    story = build_story(settled, _found_once(final), said.edits, wording)
    comparisons = tuple(_compare(sides, view) for view in sides.views())
    transfers = tuple((v, t) for v in sides.views() for t in _transfers(sides, visit, v))
    told = told_of(story, settled, comparisons, visit.lesson.coach_note, said.version)
    return Recap(
        player=player,
        date=visit.lesson.date,
        title=visit.lesson.title,
        coach_note=visit.lesson.coach_note,
        swings={s.id: s.analysis for s in visit.swings},
        roles={s.id: s.meta.role.value for s in visit.swings},
        story=story,
        judged=sum(finding.status in _TOLD for finding in settled),
        compared=sides.words if comparisons else None,
        comparisons=comparisons,
        transfers=transfers,
        pictures=_pictures(story, comparisons, sides, final),
        strip=_most_telling(final),
        charts=_charts(_progress(visits), story, comparisons),
        film_next=_film_next(visit, settled, wording),
        cautions=_cautions(story, wording),
        uncertain=tuple(f for f in settled if f.status not in _PLAIN),
        remarks=(*_left_out(left_out), *_remarks(visit)),
        made_by=_made_by(visit.swings, wording),
        told=told,
        standing=standing(told, said.approval),
        coach_views=coach_views(analyses, settled, wording.language),
        own_pictures=_own_pictures(story, final),
        wording=wording,
    )


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


def _found_once(swings: Sequence[KeptSwing]) -> frozenset[str]:
    """Faults that any of the swings shows, a coach's word on it taken for what it shows."""
    findings = (as_told(f) for s in swings for f in s.analysis.findings)
    return frozenset(f.fault for f in findings if f.status is Status.PRESENT)


def _telling(finding: Finding) -> tuple[float, bool]:
    wrong_view = finding.reason is not None and finding.reason.code == "view"
    return sureness(finding), not wrong_view


def _view(swing: KeptSwing) -> View | None:
    """Where the camera stood; ``None`` without a swing in the clip."""
    view = swing.analysis.view
    return view.value if view else None


def _sides(visits: Sequence[Visit], wording: Wording) -> _Sides:
    visit = visits[-1]
    before, after = visit.full_speed(Role.BEFORE), visit.full_speed(Role.AFTER)
    if before and after:
        words = wording.say("the start of this lesson against its end")
        return _Sides(words, before, after)
    earlier = next((v for v in reversed(visits[:-1]) if v.final()), None)
    if earlier is None:
        return _Sides(None, (), ())
    day = wording.language.long_date(earlier.lesson.date)
    words = wording.say("the lesson of {day} against this one", day=day)
    return _Sides(words, earlier.final(), visit.final())


def _from(swings: Iterable[KeptSwing], view: View) -> list[SwingAnalysis]:
    return [s.analysis for s in swings if _view(s) is view]


def _compare(sides: _Sides, view: View) -> Comparison:
    return compare(_from(sides.before, view), _from(sides.after, view))


def _transfers(sides: _Sides, visit: Visit, view: View) -> list[Transfer]:
    """What became of the faults that were there before, where a rehearsal was to change them.

    Where a coach sees a fault otherwise than the measures there is nothing to tell.
    """
    rehearsals = _from(visit.rehearsals(), view)
    if not rehearsals:
        return []
    before = _from(sides.before, view)
    transfers = transfer_to_full_speed(before, rehearsals, _from(sides.after, view))
    return [
        t
        for t in transfers
        if pool_findings(before, t.fault).status is Status.PRESENT and t.reason != COACHS_VIEW
    ]


def _pictures(
    story: Story,
    comparisons: Sequence[Comparison],
    sides: _Sides,
    final: Sequence[KeptSwing],
) -> tuple[Pictured, ...]:
    """The priorities where they show most, then what got better or worse.

    What only the coach sees has none, as a picture would tell the figures that speak against it.
    """
    wanted = [
        (p.finding.fault, p.check.views, p.check.position)
        for p in story.priorities
        if p.finding.evidence or p.finding.review is None
    ]
    wanted += [
        (change.fault, (comparison.view,), _place(change.fault, comparison))
        for comparison, change in _changed(comparisons)
    ]
    pictures: dict[str, Pictured] = {}
    for fault, views, position in wanted:
        pictured = _pictured(fault, views, position, sides, final)
        if pictured is not None:
            pictures.setdefault(fault, pictured)
    return tuple(pictures.values())[:_MOST_PICTURES]


def _own_pictures(story: Story, final: Sequence[KeptSwing]) -> dict[int, str]:
    """For each key of the coach's own, by its place, the id of the swing to draw it over."""
    pictures = {}
    for placed in story.own_keys:
        views = list(View) if placed.key.view is None else [placed.key.view]
        shown = (_showing(final, view, float(placed.key.position)) for view in views)
        swing = next((found for found in shown if found is not None), None)
        if swing is not None:
            pictures[placed.place] = swing
    return pictures


def _most_telling(swings: Sequence[KeptSwing]) -> str | None:
    """The id of the last swing, face-on where there is one: more of it is seen from there."""
    face_on = [s for s in swings if _view(s) is View.FACE_ON]
    return next((s.id for s in reversed(face_on or swings)), None)


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
    fault: str,
    views: Sequence[View],
    position: float,
    sides: _Sides,
    final: Sequence[KeptSwing],
) -> Pictured | None:
    for view in views:
        after = _showing(sides.after or final, view, position)
        if after is not None:
            before = _showing(sides.before, view, position)
            return Pictured(fault, CATALOGUE[fault].title, view, position, before, after)
    return None


def _showing(swings: Sequence[KeptSwing], view: View, position: float) -> str | None:
    """The id of the last of the swings seen from a view that shows a position."""
    for swing in reversed(swings):
        try:
            if _view(swing) is view:
                frame_of(swing.analysis, position)
                return swing.id
        except PositionNotShown:
            continue
    return None


def _progress(visits: Sequence[Visit]) -> Progress:
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
        followed = [m for m in progress.measures if m.name in leading and len(m.points) > 1]
        measures = [m for m in followed if _decided(faults[name], m)]
        if measures and not any(p.settled.coachs_own for p in faults[name].points):
            best = max(measures, key=lambda m: (_decided(faults[name], m), len(m.points)))
            charts.append(Charted(faults[name], best))
    return tuple(charts[:_MOST_CHARTS])


def _decided(fault: FaultProgress, measure: MeasureProgress) -> int:
    """In how many lessons the fault was told from the view of a measure."""
    return sum(point.status_from(measure.view) in _TOLD for point in fault.points)


def _cautions(story: Story, wording: Wording) -> tuple[str, ...]:
    told = [c for p in story.priorities for c in p.cautions]
    return tuple(dict.fromkeys((*told, *map(wording.say, CAUTIONS))))


def _film_next(visit: Visit, settled: Sequence[Finding], wording: Wording) -> tuple[str, ...]:
    """What the views disagree on, the view that was missing, then what the footage lacked.

    Where no view was missing the two are asked for again last.
    """
    seen = {_view(s) for s in visit.full_speed()}
    wanted = [
        wording.say(
            "Film {view} too: {some} of the {all} faults can only be seen from there.",
            view=wording.view(view),
            some=sum(d.views == (view,) for d in CATALOGUE.values()),
            all=len(CATALOGUE),
        )
        for view in View
        if view not in seen
    ]
    if not seen:
        wanted = [
            wording.say(
                "Film a whole swing at full speed, from standing still at address to the finish."
            )
        ]
    torn = [f.title for f in settled if f.reason and f.reason.code == "one_side_only"]
    if torn:
        told = wording.say(
            "Film face on and down the line again: one side shows {faults}, the other does not.",
            faults=wording.titles(torn),
        )
        wanted.insert(0, told)
    fixes = list(dict.fromkeys(wording.fix(r) for r in _remarks(visit)))
    if not wanted:
        fixes.append(
            wording.say(
                "Film face on and down the line again, so that the lessons can be compared."
            )
        )
    return (*wanted, *fixes)[:_MOST_TO_FILM]


def _remarks(visit: Visit) -> tuple[Remark, ...]:
    remarks = (r for s in visit.swings for r in s.analysis.quality.remarks)
    return tuple({r.code: r for r in remarks if r.level is Level.WARNING}.values())


def _left_out(lessons: int) -> tuple[Remark, ...]:
    if not lessons:
        return ()
    words = "One older lesson is" if lessons == 1 else f"{lessons} older lessons are"
    remark = Remark(
        "older_lessons_left_out",
        Level.INFO,
        f"{words} left out: a recap looks back on {MOST_SWINGS} swings.",
        "The player's progress follows all of them.",
    )
    return (remark,)


def _made_by(swings: Iterable[KeptSwing], wording: Wording) -> tuple[str, ...]:
    programs = dict.fromkeys(swing.kept.made_by for swing in swings)
    return tuple(_program(made_by, wording) for made_by in programs)


def _program(made_by: Provenance, wording: Wording) -> str:
    program = wording.say("service {version}", version=made_by.service)
    if made_by.model is None:
        model = wording.say("rules alone")
    else:
        model = wording.say("model {version}", version=made_by.model)
    return f"{program}, {model}"
