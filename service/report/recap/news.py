"""What changed between visits and within the last one, and the news that it makes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, TypeVar

from service.analysis.faults import CATALOGUE
from service.analysis.types import Status, View
from service.languages import sayable
from service.lessons import Comparison, FaultChange, Outcome, Transfer, Verdict
from service.lessons.words.wording import Wording

T = TypeVar("T")

_HELD: Final[str] = sayable("Got better, and held at full speed")
_BETTER: Final[str] = sayable("Got better")
_GONE: Final[str] = sayable("Gone since last time")
_BACK: Final[str] = sayable("Was gone and is back")
_WORSE: Final[str] = sayable("Got worse")
_LOST: Final[str] = sayable("Got better in the slow rehearsal, but not at full speed")
_REHEARSED: Final[str] = sayable("Got better in the slow rehearsal, at full speed not filmed since")
_SAME: Final[str] = sayable("Still there, no clear change")
_ONLY_NOW: Final[str] = sayable("Found now but not before, no clear change")
_ONLY_BEFORE: Final[str] = sayable("Found before but not now, no clear change")
_NOW_AND_THEN: Final[str] = sayable("In some swings, not in most")
_LOST_SIGHT_OF: Final[str] = sayable("Found before, can't be told now")

_WON: Final = (_HELD, _BETTER, _GONE)


@dataclass(frozen=True)
class Changes:
    """What changed between visits and within the last one.

    Attributes
    ----------
    compared
        What was held against what, in words; ``None`` when there was nothing.
    sides
        What to call the two.
    comparisons
        One a view.
    transfers
        By view, what became at full speed of what the rehearsal changed; without the faults
        that no rehearsal was to change.
    returned, gone
        Faults that were gone in an earlier lesson and are back since this one, and those that
        were there and are not since this one.
    better_rehearsed
        Faults that got better in the rehearsal with which the lesson ends.
    now_and_then
        Faults that some of the last swings show and most of them don't: in how many of how many.
    lost_sight_of
        Faults that were found before and of which the end of this lesson says nothing.
    unsure
        Faults of which what the last swings show is too close to call.
    """

    compared: str | None
    sides: tuple[str, str]
    comparisons: tuple[Comparison, ...]
    transfers: tuple[tuple[View, Transfer], ...]
    returned: tuple[str, ...]
    gone: tuple[str, ...]
    better_rehearsed: tuple[str, ...]
    now_and_then: Mapping[str, tuple[int, int]]
    lost_sight_of: tuple[str, ...]
    unsure: frozenset[str]

    @property
    def rows(self) -> tuple[tuple[View, FaultChange], ...]:
        """What is worth a row: faults found on either side that could be compared."""
        return tuple(
            (comparison.view, change)
            for comparison in self.comparisons
            for change in comparison.faults
            if change.tells
        )

    @property
    def clear(self) -> tuple[tuple[View, FaultChange], ...]:
        """Those of them that got better or worse."""
        return tuple(
            (view, change)
            for view, change in self.rows
            if change.verdict in (Verdict.BETTER, Verdict.WORSE)
        )

    @property
    def gained(self) -> frozenset[str]:
        """Faults that got better from a view, and worse from none."""
        return frozenset(_only(self._verdicts, Verdict.BETTER, Verdict.WORSE))

    @property
    def _verdicts(self) -> dict[str, set[Verdict]]:
        """By fault what became of it from one view or both."""
        return _by_fault((change.fault, change.verdict) for _, change in self.rows)

    @property
    def has_averages(self) -> bool:
        """Whether values of :attr:`rows` are of several swings, unlike those of a picture."""
        sides = (s for _, c in self.rows for m in c.measures for s in (m.before, m.after))
        return any(side.count > 1 for side in sides if side)

    @property
    def won(self) -> bool:
        """Whether anything got better or went."""
        return any(kind in self._by_kind for kind in _WON)

    def news(self, wording: Wording) -> tuple[tuple[str, str], ...]:
        """What changed and what held, each kind with the faults that it is true of."""
        return tuple(
            (
                wording.say(kind),
                wording.language.listed([self._named(fault, kind, wording) for fault in faults]),
            )
            for kind, faults in self._by_kind.items()
        )

    def _named(self, fault: str, kind: str, wording: Wording) -> str:
        """A fault with what else is to be told of it."""
        title = wording.language.in_sentence(CATALOGUE[fault].title)
        if fault in self.now_and_then:
            some, seen = self.now_and_then[fault]
            form = (
                sayable("{fault} ({some} of {all})")
                if kind == _NOW_AND_THEN
                else sayable("{fault} (now in {some} of {all} swings)")
            )
            return wording.say(form, fault=title, some=some, all=seen)
        still_found = fault in self._after(Status.PRESENT) - self.unsure
        if kind in (_HELD, _BETTER) and still_found:
            return wording.say("{fault} (still there)", fault=title)
        return title

    @property
    def _by_kind(self) -> dict[str, list[str]]:
        """The faults of each kind of news that there is, in the order in which it is told."""
        told = self._changed()
        said = {fault for faults in told.values() for fault in faults}
        told[_NOW_AND_THEN] = [f for f in self.now_and_then if f not in said]
        told[_LOST_SIGHT_OF] = [f for f in self.lost_sight_of if f not in said]
        return {kind: faults for kind, faults in told.items() if faults}

    def _changed(self) -> dict[str, list[str]]:
        """Likewise of what was held against something, kinds without a fault too."""
        verdicts = self._verdicts
        outcomes = _by_fault((transfer.fault, transfer.outcome) for _, transfer in self.transfers)
        better = _only(verdicts, Verdict.BETTER, Verdict.WORSE)
        worse = _only(verdicts, Verdict.WORSE, Verdict.BETTER)
        held = _only(outcomes, Outcome.HOLDS, Outcome.LOST_AT_FULL_SPEED)
        held = [f for f in held if f in better]
        # What got better at full speed by less than half as much was not lost there.
        lost = _only(outcomes, Outcome.LOST_AT_FULL_SPEED, Outcome.HOLDS)
        lost = [f for f in lost if f not in (*better, *worse, *self.returned)]
        same = [f for f, said in verdicts.items() if said == {Verdict.NO_DETECTABLE_CHANGE}]
        return {
            _HELD: held,
            _BETTER: [f for f in better if f not in held],
            _GONE: [f for f in self.gone if f not in verdicts and f not in self.now_and_then],
            _BACK: list(self.returned),
            _WORSE: [f for f in worse if f not in self.returned],
            _LOST: lost,
            _REHEARSED: list(self.better_rehearsed),
            **self._unchanged([f for f in same if f not in (*lost, *self.returned, *self.unsure)]),
        }

    def _unchanged(self, same: list[str]) -> dict[str, list[str]]:
        """Faults without a clear change by the sides that show them."""
        was, found = self._before(Status.PRESENT), self._after(Status.PRESENT)
        new = found & self._before(Status.ABSENT) - was
        lapsed = was & self._after(Status.ABSENT) - found - self.now_and_then.keys()
        return {
            _SAME: [f for f in same if f in found - new],
            _ONLY_NOW: [f for f in same if f in new],
            _ONLY_BEFORE: [f for f in same if f in lapsed],
        }

    def _before(self, status: Status) -> set[str]:
        """The faults of which the side before was found to say this, from any view."""
        return {change.fault for _, change in self.rows if change.before.status is status}

    def _after(self, status: Status) -> set[str]:
        """The faults of which the side after was."""
        return {change.fault for _, change in self.rows if change.after.status is status}


def _by_fault(said: Iterable[tuple[str, T]]) -> dict[str, set[T]]:
    """What is said of each fault."""
    by_fault: dict[str, set[T]] = {}
    for fault, what in said:
        by_fault.setdefault(fault, set()).add(what)
    return by_fault


def _only(told: Mapping[str, set[T]], wanted: T, against: T) -> list[str]:
    """Faults of which one thing was told and its opposite was not."""
    return [fault for fault, said in told.items() if wanted in said and against not in said]
