"""A lesson's recap put together from its swings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from sqlalchemy.orm import Session

from service.analysis.faults import CAUTIONS
from service.analysis.types import Finding, Status
from service.languages import ENGLISH, Language
from service.lessons import (
    Progress,
    Story,
    Trend,
    build_story,
)
from service.lessons.coach.approval import approval_status
from service.lessons.words.wording import Wording
from service.records import KeptSwing, Provenance
from service.report.branding import Branding
from service.report.recap import About, Changes, Drawn, Recap, render_html
from service.use_cases.history import clips_of
from service.use_cases.recap.charts import (
    charts_of,
    gone_since,
    lost_sight_of,
    progress_over,
    turned_in,
)
from service.use_cases.recap.coached import NOTHING_SAID, Coached, coach_views, coached, told_of
from service.use_cases.recap.filming import film_next, left_out_remarks, remarks_of
from service.use_cases.recap.pictures import most_telling, own_pictures, pictures_of
from service.use_cases.recap.settled import (
    found_once,
    now_and_then,
    settled_findings,
)
from service.use_cases.recap.visits import (
    Sides,
    Visit,
    better_rehearsed,
    compared,
    sides_of,
    transfers_of,
    visits_of,
)


@dataclass(frozen=True)
class Presentation:
    """In which language a recap is told, and the branding of its page."""

    language: Language = ENGLISH
    branding: Branding = field(default_factory=Branding)


def build_recap(session: Session, lesson_id: str, language: Language = ENGLISH) -> Recap:
    """Put a kept lesson's recap together, each swing by its newest analysis.

    Earlier lessons of the player are looked back on, as far as ``MOST_SWINGS`` of :mod:`.visits`
    reach; later ones are not.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    """
    player, visits, left_out = visits_of(session, lesson_id)
    said, wording = coached(session, lesson_id), Wording(language, player.height_cm)
    return recap_of(player.name, visits, said, wording, left_out)


def recap_page(session: Session, lesson_id: str, presentation: Presentation | None = None) -> str:
    """The recap as a page of HTML; only the clips that it draws are read.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    """
    presentation = presentation or Presentation()
    player, visits, left_out = visits_of(session, lesson_id)
    said, wording = coached(session, lesson_id), Wording(presentation.language, player.height_cm)
    recap = recap_of(player.name, visits, said, wording, left_out)
    drawn = [s for visit in visits for s in visit.swings if s.id in recap.drawn.swings]
    return render_html(recap, clips_of(session, drawn), presentation.branding)


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
    visit, wording = visits[-1], wording or Wording()
    final, sides, progress = visit.final(), sides_of(visits, wording), progress_over(visits)
    analyses = [s.analysis for s in final]
    settled = settled_findings(analyses)
    changes = _changes(visit, sides, settled, progress)
    # What was there before and did not clearly get better is no strength.
    unproven = found_once(final) | (found_once(sides.before) - changes.gained)
    story = build_story(settled, unproven, said.edits, wording, changes.gained)
    told = told_of(story, settled, changes, visit.lesson.coach_note, said.version)
    return Recap(
        about=_about(player, visit, wording),
        swings={s.id: s.analysis for s in visit.swings},
        roles={s.id: s.meta.role.value for s in visit.swings},
        story=story,
        settled=tuple(settled),
        judged_after=len(final) < len(visit.full_speed()),
        changes=changes,
        drawn=_drawn(story, changes, sides, final, progress),
        film_next=film_next(visit, settled, wording),
        remarks=(*left_out_remarks(left_out), *remarks_of(visit)),
        cautions=_cautions(story, wording),
        standing=approval_status(told, said.approval, story.not_found),
        coach_views=coach_views(analyses, settled, wording.language),
        wording=wording,
    )


def _about(player: str, visit: Visit, wording: Wording) -> About:
    programs = dict.fromkeys(swing.kept.made_by for swing in visit.swings)
    made_by = tuple(_program(program, wording) for program in programs)
    lesson = visit.lesson
    return About(player, lesson.date, lesson.title, lesson.coach_note, made_by)


def _changes(visit: Visit, sides: Sides, settled: Sequence[Finding], progress: Progress) -> Changes:
    comparisons = tuple(compared(sides, view) for view in sides.views())
    return Changes(
        compared=sides.words if comparisons else None,
        sides=sides.headings,
        comparisons=comparisons,
        transfers=tuple((v, t) for v in sides.views() for t in transfers_of(sides, visit, v)),
        returned=turned_in(progress, visit, Trend.RELAPSE),
        gone=gone_since(progress, visit),
        better_rehearsed=better_rehearsed(visit),
        now_and_then=now_and_then([s.analysis for s in visit.final()], settled),
        lost_sight_of=lost_sight_of(progress, settled),
        unsure=frozenset(f.fault for f in settled if f.status is Status.UNCERTAIN),
    )


def _drawn(
    story: Story, changes: Changes, sides: Sides, final: Sequence[KeptSwing], progress: Progress
) -> Drawn:
    return Drawn(
        pictures=pictures_of(story, changes, sides, final),
        own_pictures=own_pictures(story, final),
        strip=most_telling(final),
        charts=charts_of(progress, story, changes),
    )


def _cautions(story: Story, wording: Wording) -> tuple[str, ...]:
    told = [c for p in story.priorities for c in p.cautions]
    return tuple(dict.fromkeys((*told, *map(wording.say, CAUTIONS))))


def _program(made_by: Provenance, wording: Wording) -> str:
    program = wording.say("service {version}", version=made_by.service)
    if made_by.model is None:
        model = wording.say("rules alone")
    else:
        model = wording.say("model {version}", version=made_by.model)
    return f"{program}, {model}"
