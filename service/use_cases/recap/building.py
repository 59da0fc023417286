"""A lesson's recap put together from its swings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from sqlalchemy.orm import Session

from service.analysis.faults import CAUTIONS
from service.analysis.types import Finding, Status, View
from service.languages import ENGLISH, Language
from service.lessons import (
    Comparison,
    Progress,
    Story,
    Transfer,
    Trend,
    Verdict,
    build_story,
)
from service.lessons.coach.approval import ApprovableContent, approval_status
from service.lessons.words.wording import Wording
from service.records import KeptSwing, Provenance
from service.report.branding import Branding
from service.report.recap import Recap, render_html
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
    changed,
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

    Earlier lessons of the player are looked back on, as far as :data:`MOST_SWINGS` reach; later
    ones are not.

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
    drawn = [s for visit in visits for s in visit.swings if s.id in recap.drawn]
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
    wording = wording or Wording()
    visit = visits[-1]
    final = visit.final()
    found = _lesson_findings(visits, said, wording)
    sides, story, comparisons = found.sides, found.story, found.comparisons
    told = _approvable(found, visit.lesson.coach_note, said)
    return Recap(
        player=player,
        date=visit.lesson.date,
        title=visit.lesson.title,
        coach_note=visit.lesson.coach_note,
        swings={s.id: s.analysis for s in visit.swings},
        roles={s.id: s.meta.role.value for s in visit.swings},
        story=story,
        judged=sum(finding.status.is_decided for finding in found.settled),
        judged_after=len(final) < len(visit.full_speed()),
        compared=sides.words if comparisons else None,
        sides=sides.headings,
        comparisons=comparisons,
        transfers=found.transfers,
        pictures=pictures_of(story, comparisons, sides, final),
        strip=most_telling(final),
        charts=charts_of(found.progress, story, comparisons),
        film_next=film_next(visit, found.settled, wording),
        cautions=_cautions(story, wording),
        uncertain=tuple(f for f in found.settled if f.status is Status.UNCERTAIN),
        remarks=(*left_out_remarks(left_out), *remarks_of(visit)),
        made_by=_made_by(visit.swings, wording),
        returned=found.returned,
        gone=found.gone,
        better_rehearsed=found.better_rehearsed,
        now_and_then=found.sometimes,
        lost_sight_of=found.lost,
        told=told,
        standing=approval_status(told, said.approval, story.not_found),
        coach_views=coach_views([s.analysis for s in final], found.settled, wording.language),
        own_pictures=own_pictures(story, final),
        wording=wording,
    )


@dataclass(frozen=True)
class _LessonFindings:
    """What the swings of the last visit say together, beside those of the visits before."""

    sides: Sides
    settled: Sequence[Finding]
    story: Story
    comparisons: tuple[Comparison, ...]
    transfers: tuple[tuple[View, Transfer], ...]
    better_rehearsed: tuple[str, ...]
    progress: Progress
    returned: tuple[str, ...]
    gone: tuple[str, ...]
    sometimes: Mapping[str, tuple[int, int]]
    lost: tuple[str, ...]


def _lesson_findings(visits: Sequence[Visit], said: Coached, wording: Wording) -> _LessonFindings:
    visit = visits[-1]
    sides, final = sides_of(visits, wording), visit.final()
    analyses = [s.analysis for s in final]
    settled = settled_findings(analyses)
    comparisons = tuple(compared(sides, view) for view in sides.views())
    gained = {c.fault for _, c in changed(comparisons) if c.verdict is Verdict.BETTER}
    # What was there before and did not clearly get better is no strength.
    unproven = found_once(final) | (found_once(sides.before) - gained)
    progress = progress_over(visits)
    return _LessonFindings(
        sides,
        settled,
        build_story(settled, unproven, said.edits, wording, gained),
        comparisons,
        tuple((v, t) for v in sides.views() for t in transfers_of(sides, visit, v)),
        better_rehearsed(visit),
        progress,
        turned_in(progress, visit, Trend.RELAPSE),
        gone_since(progress, visit),
        now_and_then(analyses, settled),
        lost_sight_of(progress, settled),
    )


def _approvable(found: _LessonFindings, coach_note: str | None, said: Coached) -> ApprovableContent:
    """What an approval of the recap holds for."""
    told = told_of(found.story, found.settled, found.comparisons, coach_note, said.version)
    return replace(
        told,
        findings={**told.findings, **_beside(found.sometimes, found.lost)},
        changes={**told.changes, **_rehearsed(found), **_since_earlier(found)},
    )


def _beside(sometimes: Iterable[str], lost: Iterable[str]) -> dict[str, str]:
    """What is told of faults beside those found, as far as an approval holds for it."""
    return {
        **dict.fromkeys(sometimes, "found in some swings"),
        **dict.fromkeys(lost, "found before and not to be told"),
    }


def _rehearsed(found: _LessonFindings) -> dict[str, str]:
    """What became of faults in a rehearsal and after it, likewise."""
    return {
        **{f"{t.fault}, {view}, rehearsed": t.outcome.value for view, t in found.transfers},
        **{f"{fault}, rehearsed": Verdict.BETTER.value for fault in found.better_rehearsed},
    }


def _since_earlier(found: _LessonFindings) -> dict[str, str]:
    """What became of faults since earlier visits, likewise."""
    return {**dict.fromkeys(found.returned, "back"), **dict.fromkeys(found.gone, "gone")}


def _cautions(story: Story, wording: Wording) -> tuple[str, ...]:
    told = [c for p in story.priorities for c in p.cautions]
    return tuple(dict.fromkeys((*told, *map(wording.say, CAUTIONS))))


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
