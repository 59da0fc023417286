"""Everything that the page of a lesson says."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Final, TypeVar

from service.analysis.faults import CATALOGUE
from service.analysis.types import (
    Finding,
    Intent,
    Remark,
    Status,
    StoppedAt,
    SwingAnalysis,
    View,
)
from service.languages import sayable
from service.lessons import (
    Comparison,
    FaultChange,
    FaultProgress,
    MeasureProgress,
    Outcome,
    Story,
    Transfer,
    Verdict,
)
from service.lessons.coach.approval import DRAFT, ApprovableContent, ApprovalStatus
from service.lessons.coach.reviews import CoachView
from service.lessons.words.wording import Wording

T = TypeVar("T")

_HELD: Final[str] = sayable("Got better, and held at full speed")

_BETTER: Final[str] = sayable("Got better")

_WORSE: Final[str] = sayable("Got worse")

_BACK: Final[str] = sayable("Was gone and is back")

_GONE: Final[str] = sayable("Gone since last time")

_LOST: Final[str] = sayable("Got better in the slow rehearsal, but not at full speed")

_REHEARSED: Final[str] = sayable("Got better in the slow rehearsal, at full speed not filmed since")

_SAME: Final[str] = sayable("Still there, no clear change")

_ONLY_NOW: Final[str] = sayable("Found now but not before, no clear change")

_ONLY_BEFORE: Final[str] = sayable("Found before but not now, no clear change")

_NOW_AND_THEN: Final[str] = sayable("In some swings, not in most")

_LOST_SIGHT_OF: Final[str] = sayable("Found before, can't be told now")

_HABIT: Final[str] = sayable("Make what got better a habit before anything new.")

_WON: Final = (_HELD, _BETTER, _GONE)

_LITTLE: Final[float] = 1 / 3
"""Share of the faults of which fewer judged say too little to speak of a swing without faults; a
judgement."""


@dataclass(frozen=True)
class Pictured:
    """A fault to show, where, and in which swings: ``before`` and ``after`` are their ids.

    ``before`` is ``None`` where there is no swing to hold it against. ``position`` is a
    position coordinate that each of the swings shows.
    """

    fault: str
    title: str
    view: View
    position: float
    before: str | None
    after: str


@dataclass(frozen=True)
class Charted:
    """A fault over lessons, with the measure by which it is judged first."""

    fault: FaultProgress
    measure: MeasureProgress


@dataclass(frozen=True)
class Recap:
    """Everything the page says.

    Attributes
    ----------
    swings
        What was found in each swing of the lesson by the swing's id, in the order of recording.
    roles
        The part that each swing plays in the lesson in words, by its id.
    judged
        How many faults were told to be there or not.
    judged_after
        Whether that is of the swings after the work alone, where there are others at full speed.
    compared
        What was held against what, in words; ``None`` when there was nothing.
    sides
        What to call the two.
    comparisons
        One a view.
    transfers
        By view, what became at full speed of what the rehearsal changed; without the faults
        that no rehearsal was to change.
    strip
        Id of the swing whose positions are shown along its time line; ``None`` without a swing.
    uncertain
        Findings too close to call.
    film_next
        What to film next time, most needed first.
    remarks
        On the footage, one of a kind.
    made_by
        Versions of what analysed the swings.
    returned, gone
        Faults that were gone in an earlier lesson and are back since this one, and those that
        were there and are not since this one.
    better_rehearsed
        Faults that got better in the rehearsal with which the lesson ends.
    now_and_then
        Faults that some of the last swings show and most of them don't: in how many of how many.
    lost_sight_of
        Faults that were found before and of which the end of this lesson says nothing.
    told, standing
        What an approval holds for, and whether one does.
    coach_views
        What the coach says of faults beside what the service found.
    own_pictures
        By the place of a key of the coach's own the id of the swing that it is drawn over.
    wording
        How it is said to the player.
    """

    player: str
    date: date
    title: str | None
    coach_note: str | None
    swings: Mapping[str, SwingAnalysis]
    roles: Mapping[str, str]
    story: Story
    judged: int
    compared: str | None
    sides: tuple[str, str]
    comparisons: tuple[Comparison, ...]
    transfers: tuple[tuple[View, Transfer], ...]
    pictures: tuple[Pictured, ...]
    strip: str | None
    charts: tuple[Charted, ...]
    film_next: tuple[str, ...]
    cautions: tuple[str, ...]
    uncertain: tuple[Finding, ...]
    remarks: tuple[Remark, ...]
    made_by: tuple[str, ...]
    returned: tuple[str, ...] = ()
    gone: tuple[str, ...] = ()
    better_rehearsed: tuple[str, ...] = ()
    judged_after: bool = False
    now_and_then: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    lost_sight_of: tuple[str, ...] = ()
    told: ApprovableContent = field(default_factory=ApprovableContent)
    standing: ApprovalStatus = DRAFT
    coach_views: tuple[CoachView, ...] = ()
    own_pictures: Mapping[int, str] = field(default_factory=dict)
    wording: Wording = field(default_factory=Wording)

    @property
    def changes(self) -> tuple[tuple[View, FaultChange], ...]:
        """What is worth a row: faults found on either side that could be compared."""
        return tuple(
            (comparison.view, change)
            for comparison in self.comparisons
            for change in comparison.faults
            if change.tells
        )

    @property
    def news(self) -> tuple[tuple[str, str], ...]:
        """What changed and what held, each kind with the faults that it is true of."""
        verdicts: dict[str, set[Verdict]] = {}
        for _, change in self.changes:
            verdicts.setdefault(change.fault, set()).add(change.verdict)
        outcomes: dict[str, set[Outcome]] = {}
        for _, transfer in self.transfers:
            outcomes.setdefault(transfer.fault, set()).add(transfer.outcome)
        before = self._with(lambda c: c.before.status)
        after = self._with(lambda c: c.after.status)
        unsure = {finding.fault for finding in self.uncertain}
        found = after[Status.PRESENT] - unsure
        better = _only(verdicts, Verdict.BETTER, Verdict.WORSE)
        held = _only(outcomes, Outcome.HOLDS, Outcome.LOST_AT_FULL_SPEED)
        held = [f for f in held if f in better]
        worse = _only(verdicts, Verdict.WORSE, Verdict.BETTER)
        # What got better at full speed by less than half as much was not lost there.
        lost = _only(outcomes, Outcome.LOST_AT_FULL_SPEED, Outcome.HOLDS)
        lost = [f for f in lost if f not in (*better, *worse, *self.returned)]
        same = [f for f, said in verdicts.items() if said == {Verdict.NO_DETECTABLE_CHANGE}]
        back = self.returned
        same = [f for f in same if f not in (*lost, *back, *unsure)]
        new = found & before[Status.ABSENT] - before[Status.PRESENT]
        lapsed = before[Status.PRESENT] & after[Status.ABSENT] - found - self.now_and_then.keys()
        gone = [f for f in self.gone if f not in verdicts and f not in self.now_and_then]
        told: list[tuple[str, list[str], Collection[str]]] = [
            (_HELD, held, found),
            (_BETTER, [f for f in better if f not in held], found),
            (_GONE, gone, ()),
            (_BACK, list(back), ()),
            (_WORSE, [f for f in worse if f not in back], ()),
            (_LOST, lost, ()),
            (_REHEARSED, list(self.better_rehearsed), ()),
            (_SAME, [f for f in same if f in found - new], ()),
            (_ONLY_NOW, [f for f in same if f in new], ()),
            (_ONLY_BEFORE, [f for f in same if f in lapsed], ()),
        ]
        said = {fault for _, faults, _ in told for fault in faults}
        say = self.wording.say
        news = [(say(kind), self._named(faults, still)) for kind, faults, still in told if faults]
        now_and_then = [f for f in self.now_and_then if f not in said]
        if now_and_then:
            form = sayable("{fault} ({some} of {all})")
            told_once = [self._counted(form, fault) for fault in now_and_then]
            news.append((say(_NOW_AND_THEN), self.wording.language.listed(told_once)))
        out_of_sight = [f for f in self.lost_sight_of if f not in said]
        if out_of_sight:
            news.append((say(_LOST_SIGHT_OF), self._named(out_of_sight, ())))
        return tuple(news)

    def _with(self, side: Callable[[FaultChange], Status]) -> dict[Status, set[str]]:
        """The faults that a side was found to have, not to have and so on, from any view."""
        return {
            status: {c.fault for _, c in self.changes if side(c) is status} for status in Status
        }

    def _counted(self, form: str, fault: str) -> str:
        """A fault with how many of the last swings show it."""
        some, seen = self.now_and_then[fault]
        return self.wording.say(form, fault=self._title(fault), some=some, all=seen)

    def _named(self, faults: Collection[str], still_found: Collection[str]) -> str:
        """Faults, each once with what else is to be told of it."""

        def named(fault: str) -> str:
            if fault in self.now_and_then:
                return self._counted(sayable("{fault} (now in {some} of {all} swings)"), fault)
            title = self._title(fault)
            still_there = fault in still_found
            return self.wording.say("{fault} (still there)", fault=title) if still_there else title

        return self.wording.language.listed([named(fault) for fault in faults])

    def _title(self, fault: str) -> str:
        return self.wording.language.in_sentence(CATALOGUE[fault].title)

    @property
    def without_keys(self) -> str:
        """What stands in the place of the keys where there are none."""
        say = self.wording.say
        if self.story.hidden:
            return say("Your coach has chosen nothing to work on from this lesson.")
        if self.uncertain:
            return say(
                "Nothing is sure enough to work on. Possibly there at full speed: {faults}.",
                faults=self.wording.titles([finding.title for finding in self.uncertain]),
            )
        if self.latest:
            return self.none_to_work_on
        if any(swing.swing_found for swing in self.swings.values()):
            return say(
                "Only slow rehearsals were filmed; what you do at full speed they don't tell."
            )
        if self.swings:
            return say("No golf swing at full speed was found in the clips of this lesson.")
        return say("No swing of this lesson has been recorded yet.")

    @property
    def none_to_work_on(self) -> str:
        """What is said where no fault was found and none is too close to call."""
        say, few = self.wording.say, self.judged < _LITTLE * self.known
        if few:
            form = sayable(
                "Too little could be judged to say what to work on: {judged} of the {all} faults, "
                "and none of them was found."
            )
        elif self.now_and_then:
            form = sayable(
                "No fault shows in most of the swings; {judged} of the {all} faults could be "
                "judged."
            )
        elif self.judged < self.known:
            form = sayable(
                "No fault was found at full speed in what could be seen: {judged} of the {all} "
                "faults could be judged."
            )
        else:
            form = sayable("No fault was found at full speed; all {all} could be judged.")
        told = say(form, judged=self.judged, all=self.known)
        if self.judged_after:
            told += " " + say("This counts only the swings after the work.")
        won = {say(kind) for kind in _WON} & {kind for kind, _ in self.news}
        if few or not won:
            return told
        return f"{told} {say(_HABIT)}"

    @property
    def count_of_judged(self) -> str:
        """How many of all faults could be judged, and in which swings where that is not in all."""
        form = (
            sayable("{judged} of the {all} faults could be judged in the swings after the work.")
            if self.judged_after
            else sayable("{judged} of the {all} faults could be judged.")
        )
        return self.wording.say(form, judged=self.judged, all=self.known)

    @property
    def known(self) -> int:
        """How many faults there are."""
        return len(CATALOGUE)

    @property
    def none_found(self) -> tuple[str, ...]:
        """Why no swing was found in clips without one, each reason once."""
        swings = self.swings.values()
        reasons = (s.reason for s in swings if not s.swing_found and s.reason is not None)
        return tuple(dict.fromkeys(self.wording.reason(reason) for reason in reasons))

    @property
    def latest(self) -> tuple[SwingAnalysis, ...]:
        """The last swing at full speed from each view."""
        by_view = {
            swing.view.value: swing
            for swing in self.swings.values()
            if swing.view is not None and swing.intent is Intent.FULL_SPEED
        }
        return tuple(by_view[view] for view in View if view in by_view)

    @property
    def has_averages(self) -> bool:
        """Whether values of :attr:`changes` are of several swings, unlike those of a picture."""
        sides = (s for _, c in self.changes for m in c.measures for s in (m.before, m.after))
        return any(side.count > 1 for side in sides if side)

    @property
    def looks_back(self) -> bool:
        """Whether its charts show lessons before this one."""
        days = {point.date.date() for each in self.charts for point in each.measure.points}
        return len(days) > 1

    @property
    def lengths(self) -> tuple[tuple[int, StoppedAt], ...]:
        """Backswings that were asked to stop somewhere, by their swing's number in the lesson."""
        stops = enumerate((swing.stopped_at for swing in self.swings.values()), start=1)
        return tuple((number, stopped) for number, stopped in stops if stopped is not None)

    @property
    def drawn(self) -> frozenset[str]:
        """Ids of the swings that the page draws."""
        pictured = [swing for p in self.pictures for swing in (p.before, p.after)]
        pictured += [*self.own_pictures.values(), self.strip]
        return frozenset(swing for swing in pictured if swing is not None)


def _only(told: Mapping[str, set[T]], wanted: T, against: T) -> list[str]:
    """Faults of which one thing was told and its opposite was not."""
    return [fault for fault, said in told.items() if wanted in said and against not in said]
