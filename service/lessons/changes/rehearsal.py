"""Does what changed in the slow rehearsal hold at full speed?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from service.analysis.types import Intent, Reason, Status, SwingAnalysis
from service.lessons.changes.comparison import FaultChange, Verdict, compare
from service.lessons.errors import WrongIntent

LEAST_KEPT: Final[float] = 0.5
"""Share of the rehearsal's change that must be there at full speed; a judgement."""


class Outcome(StrEnum):
    """What became at full speed of a change made in the rehearsal."""

    HOLDS = "holds"
    LOST_AT_FULL_SPEED = "lost_at_full_speed"
    NOT_CHANGED_IN_REHEARSAL = "not_changed_in_rehearsal"
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True)
class Transfer:
    """One fault before, in the rehearsal, and after.

    ``kept`` is the share of the rehearsal's change in the fault's leading measure that
    is there at full speed (0 none, 1 all of it, more where full speed went further), given
    when the rehearsal changed it detectably. ``reason`` is given when the outcome is
    ``CANNOT_TELL``.
    """

    fault: str
    title: str
    outcome: Outcome
    kept: float | None = None
    reason: Reason | None = None


def transfer_to_full_speed(
    before: Sequence[SwingAnalysis],
    rehearsal: Sequence[SwingAnalysis],
    after: Sequence[SwingAnalysis],
) -> tuple[Transfer, ...]:
    """Follow every fault of the catalogue from full speed through a rehearsal back to full speed.

    What got better in the rehearsal *holds* when it is better afterwards at full speed too
    and at least half of the change is kept. It is *lost* when it is not, and full speed is
    worse than the rehearsal. Otherwise it can't be told, nor can what speed alone changes,
    such as the tempo.

    Raises
    ------
    WrongIntent
        If ``rehearsal`` holds a swing at full speed, or the others a rehearsal.
    NotComparable
        As :func:`~service.lessons.changes.comparison.compare`.
    """
    _check_intent(before, Intent.FULL_SPEED)
    _check_intent(rehearsal, Intent.REHEARSAL)
    _check_intent(after, Intent.FULL_SPEED)
    learned = compare(before, rehearsal).faults
    kept = compare(before, after).faults
    slipped = compare(rehearsal, after).faults
    return tuple(_follow(*steps) for steps in zip(learned, kept, slipped, strict=True))


def _check_intent(swings: Sequence[SwingAnalysis], intent: Intent) -> None:
    wrong = sum(s.intent is not intent for s in swings)
    if wrong:
        wanted = intent.value.replace("_", " ")
        raise WrongIntent(
            f"{wrong} of the swings given as {wanted} were recorded with another intent; "
            f"send only {wanted} swings there."
        )


def _follow(learned: FaultChange, kept: FaultChange, slipped: FaultChange) -> Transfer:
    share = _share_kept(learned, kept)
    outcome, reason = _outcome(learned, kept, slipped, share)
    return Transfer(learned.fault, learned.title, outcome, share, reason)


def _outcome(
    learned: FaultChange, kept: FaultChange, slipped: FaultChange, share: float | None
) -> tuple[Outcome, Reason | None]:
    if learned.verdict is Verdict.NOT_COMPARABLE:
        return Outcome.CANNOT_TELL, learned.reason and _of_the_rehearsal(learned.reason)
    if kept.verdict is Verdict.NOT_COMPARABLE:
        return Outcome.CANNOT_TELL, kept.reason
    if learned.before.status is Status.UNCERTAIN:
        reason = Reason("uncertain_before", "Whether it was there before is too close to call.")
        return Outcome.CANNOT_TELL, reason
    if learned.before.status is not Status.PRESENT:
        reason = Reason(
            "absent_before", "The fault was not there before, so there was nothing to change."
        )
        return Outcome.CANNOT_TELL, reason
    if learned.verdict is not Verdict.BETTER:
        return Outcome.NOT_CHANGED_IN_REHEARSAL, None
    if kept.verdict is Verdict.BETTER and (share is None or share >= LEAST_KEPT):
        return Outcome.HOLDS, None
    if kept.verdict is Verdict.WORSE or slipped.verdict is Verdict.WORSE:
        return Outcome.LOST_AT_FULL_SPEED, None
    reason = Reason(
        "between",
        "At full speed it lies between before and the rehearsal, too near both to be told apart.",
    )
    return Outcome.CANNOT_TELL, reason


def _of_the_rehearsal(reason: Reason) -> Reason:
    """A reason of the comparison in which the rehearsal was the side after."""
    side, told, text = reason.text.partition("After: ")
    return reason if side or not told else replace(reason, text=f"Rehearsal: {text}")


def _share_kept(learned: FaultChange, kept: FaultChange) -> float | None:
    if learned.verdict is not Verdict.BETTER or kept.verdict is Verdict.NOT_COMPARABLE:
        return None
    first, second = learned.measures[0], kept.measures[0]
    if first.verdict is not Verdict.BETTER or not first.change or second.change is None:
        return None
    return second.change / first.change
