"""What a coach said of a lesson's recap, and what an approval of it holds for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy.orm import Session

from service.analysis.faults import CATALOGUE
from service.analysis.types import Finding, Status, SwingAnalysis
from service.languages import ENGLISH, Language
from service.lessons import Priority, Story, Verdict
from service.lessons.coach.approval import ApprovableContent, Approval
from service.lessons.coach.edits import NO_EDITS, RecapEdits
from service.lessons.coach.reviews import CoachView, as_told, coach_view
from service.lessons.swings import finding_about
from service.records.reviews import recap_approvals, recap_edits
from service.report.recap import Changes


@dataclass(frozen=True)
class Coached:
    """The edits of a recap with their version, 0 without any, and the last word on approval."""

    edits: RecapEdits = NO_EDITS
    version: int = 0
    approval: Approval | None = None


NOTHING_SAID: Final = Coached()


def coached(session: Session, lesson_id: str) -> Coached:
    """What a coach said of the recap of a lesson that is there."""
    kept = recap_edits.find(session, lesson_id)
    approval = recap_approvals.find(session, lesson_id)
    if kept is None:
        return Coached(approval=approval)
    return Coached(kept.edits, kept.version, approval)


def told_of(
    story: Story, settled: Sequence[Finding], changes: Changes, note: str | None, edits: int
) -> ApprovableContent:
    """What a recap of these tells, as far as an approval holds for it."""
    return ApprovableContent(
        findings={
            **{f.fault: _found(f) for f in settled if f.status is Status.PRESENT},
            **dict.fromkeys(changes.now_and_then, "found in some swings"),
            **dict.fromkeys(changes.lost_sight_of, "found before and not to be told"),
        },
        keys=tuple(k.finding.fault if isinstance(k, Priority) else k.key.title for k in story.keys),
        keep=tuple(keep.fault for keep in story.keep),
        changes={
            **{f"{c.fault}, {view}": c.verdict.value for view, c in changes.rows},
            **{f"{t.fault}, {view}, rehearsed": t.outcome.value for view, t in changes.transfers},
            **{f"{fault}, rehearsed": Verdict.BETTER.value for fault in changes.better_rehearsed},
            **dict.fromkeys(changes.returned, "back"),
            **dict.fromkeys(changes.gone, "gone"),
        },
        note=note,
        edits=edits,
    )


def coach_views(
    swings: Sequence[SwingAnalysis], settled: Sequence[Finding], language: Language = ENGLISH
) -> tuple[CoachView, ...]:
    """What the coach says of each fault beside the service, where it is what is told of it.

    Of several swings one in which the two differ says it, as there is more to say.
    """
    told = {finding.fault: finding.status for finding in settled}
    views = []
    for name in CATALOGUE:
        found = [f for s in swings if (f := finding_about(s, name)) is not None and f.review]
        said = [
            v for f in found if as_told(f).status is told[name] and (v := coach_view(f, language))
        ]
        views += sorted(said, key=lambda view: not view.contradicts)[:1]
    return tuple(views)


def _found(finding: Finding) -> str:
    return f"found, {finding.grade.value}" if finding.grade is not None else "found"
