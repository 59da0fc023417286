"""Everything that the page of a lesson says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

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
from service.lessons import Story
from service.lessons.coach.approval import ApprovalStatus
from service.lessons.coach.reviews import CoachView
from service.lessons.words.wording import Wording
from service.report.recap.drawn import Drawn
from service.report.recap.news import Changes

_LITTLE: Final[float] = 1 / 3
"""Share of the faults of which fewer judged say too little to speak of a swing without faults; a
judgement."""


@dataclass(frozen=True)
class About:
    """Whose lesson it was and when, what its coach wrote, and who made what is told of it.

    ``made_by`` has the versions of what analysed the swings.
    """

    player: str
    date: date
    title: str | None
    coach_note: str | None
    made_by: tuple[str, ...]


@dataclass(frozen=True)
class Recap:
    """Everything the page says.

    Attributes
    ----------
    swings
        What was found in each swing of the lesson by the swing's id, in the order of recording.
    roles
        The part that each swing plays in the lesson in words, by its id.
    settled
        For each fault what the last swings say together.
    judged_after
        Whether those are the swings after the work alone, where there are others at full speed.
    film_next
        What to film next time, most needed first.
    remarks
        On the footage, one of a kind.
    standing
        Whether a coach's approval holds for it.
    coach_views
        What the coach says of faults beside what the service found.
    wording
        How it is said to the player.
    """

    about: About
    swings: Mapping[str, SwingAnalysis]
    roles: Mapping[str, str]
    story: Story
    settled: tuple[Finding, ...]
    judged_after: bool
    changes: Changes
    drawn: Drawn
    film_next: tuple[str, ...]
    remarks: tuple[Remark, ...]
    cautions: tuple[str, ...]
    standing: ApprovalStatus
    coach_views: tuple[CoachView, ...]
    wording: Wording

    @property
    def news(self) -> tuple[tuple[str, str], ...]:
        """What changed and what held, each kind with the faults that it is true of."""
        return self.changes.news(self.wording)

    @property
    def uncertain(self) -> tuple[Finding, ...]:
        """Findings too close to call."""
        return tuple(f for f in self.settled if f.status is Status.UNCERTAIN)

    @property
    def judged(self) -> int:
        """How many faults were told to be there or not."""
        return sum(finding.status.is_decided for finding in self.settled)

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
        told = [say(self._none_of_judged(few), judged=self.judged, all=self.known)]
        if self.judged_after:
            told.append(say("This counts only the swings after the work."))
        if self.changes.won and not few:
            told.append(say("Make what got better a habit before anything new."))
        return " ".join(told)

    def _none_of_judged(self, few: bool) -> str:
        """That no fault was found, by how many could be judged."""
        if few:
            return sayable(
                "Too little could be judged to say what to work on: {judged} of the {all} faults, "
                "and none of them was found."
            )
        if self.changes.now_and_then:
            return sayable(
                "No fault shows in most of the swings; {judged} of the {all} faults could be "
                "judged."
            )
        if self.judged < self.known:
            return sayable(
                "No fault was found at full speed in what could be seen: {judged} of the {all} "
                "faults could be judged."
            )
        return sayable("No fault was found at full speed; all {all} could be judged.")

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
    def lengths(self) -> tuple[tuple[int, StoppedAt], ...]:
        """Backswings that were asked to stop somewhere, by their swing's number in the lesson."""
        stops = enumerate((swing.stopped_at for swing in self.swings.values()), start=1)
        return tuple((number, stopped) for number, stopped in stops if stopped is not None)
