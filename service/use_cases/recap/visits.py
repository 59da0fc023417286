"""What is held against what: visits to the coach, and the sides of a comparison."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy.orm import Session

from service.analysis.types import Intent, Status, SwingAnalysis, View
from service.lessons import (
    Comparison,
    Transfer,
    Verdict,
    compare,
    pool_findings,
    transfer_to_full_speed,
)
from service.lessons.changes.comparison import COACHS_VIEW
from service.lessons.words.wording import Wording
from service.records import KeptSwing, Lesson, Player, Role
from service.records.keeping import lessons, players, swings
from service.use_cases.history import swings_by_lesson

MOST_SWINGS: Final[int] = 300
"""Swings that a recap looks at, of the lesson and those before it; a lesson of more is looked at
alone."""


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
            if view_of(s) and s.analysis.intent is Intent.FULL_SPEED and role in (None, s.meta.role)
        ]

    def final(self) -> list[KeptSwing]:
        """What the player does when leaving: the swings after, without them all at full speed."""
        return self.full_speed(Role.AFTER) or self.full_speed()

    def rehearsals(self) -> list[KeptSwing]:
        """Slow rehearsals."""
        return [s for s in self.swings if view_of(s) and s.analysis.intent is Intent.REHEARSAL]

    @property
    def ends_rehearsing(self) -> bool:
        """Whether all swings at full speed are those before the work, which was rehearsed then."""
        before = self.full_speed(Role.BEFORE)
        return bool(before and self.rehearsals()) and len(before) == len(self.full_speed())


@dataclass(frozen=True)
class Sides:
    """What is held against what, in words and as headings."""

    words: str | None
    before: Sequence[KeptSwing]
    after: Sequence[KeptSwing]
    headings: tuple[str, str]

    def views(self) -> list[View]:
        """Views from which both sides are seen."""
        return [v for v in View if seen_from(self.before, v) and seen_from(self.after, v)]


def visits_of(session: Session, lesson_id: str) -> tuple[Player, list[Visit], int]:
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


def sides_of(visits: Sequence[Visit], wording: Wording) -> Sides:
    """The start of the last visit against its end; without the two, the visit before against it."""
    visit = visits[-1]
    before, after = visit.full_speed(Role.BEFORE), visit.full_speed(Role.AFTER)
    in_lesson = wording.say("Before"), wording.say("After")
    if before and after:
        words = wording.say("the start of this lesson against its end")
        return Sides(words, before, after, in_lesson)
    earlier = next((v for v in reversed(visits[:-1]) if v.final()), None)
    if earlier is None:
        return Sides(None, (), (), in_lesson)
    day = wording.language.long_date(earlier.lesson.date)
    words = wording.say("the lesson of {day} against this one", day=day)
    headings = wording.say("Last time"), wording.say("This time")
    return Sides(words, earlier.final(), visit.final(), headings)


def seen_from(swings: Iterable[KeptSwing], view: View) -> list[SwingAnalysis]:
    """What was found in those of the swings that were filmed from a view."""
    return [s.analysis for s in swings if view_of(s) is view]


def view_of(swing: KeptSwing) -> View | None:
    """Where the camera stood; ``None`` without a swing in the clip."""
    view = swing.analysis.view
    return view.value if view else None


def compared(sides: Sides, view: View) -> Comparison:
    """The two sides held against one another, as seen from a view."""
    return compare(seen_from(sides.before, view), seen_from(sides.after, view))


def transfers_of(sides: Sides, visit: Visit, view: View) -> list[Transfer]:
    """What became of the faults that were there before, where a rehearsal was to change them.

    Where a coach sees a fault otherwise than the measures there is nothing to tell, and where the
    rehearsal came last full speed has not been asked yet.
    """
    rehearsals = seen_from(visit.rehearsals(), view)
    if not rehearsals or visit.ends_rehearsing:
        return []
    before = seen_from(sides.before, view)
    transfers = transfer_to_full_speed(before, rehearsals, seen_from(sides.after, view))
    return [
        t
        for t in transfers
        if pool_findings(before, t.fault).status is Status.PRESENT and t.reason != COACHS_VIEW
    ]


def better_rehearsed(visit: Visit) -> tuple[str, ...]:
    """Faults of the start of a visit that got better in the rehearsal with which it ends.

    Empty where full speed was filmed after it, which then tells more.
    """
    if not visit.ends_rehearsing:
        return ()
    start = Sides(None, visit.full_speed(Role.BEFORE), visit.rehearsals(), ("", ""))
    verdicts: dict[str, set[Verdict]] = {}
    for view in start.views():
        for change in compared(start, view).faults:
            if change.before.status is Status.PRESENT:
                verdicts.setdefault(change.fault, set()).add(change.verdict)
    return tuple(
        fault
        for fault, said in verdicts.items()
        if Verdict.BETTER in said and Verdict.WORSE not in said
    )
