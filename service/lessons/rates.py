"""How often a fault shows among many swings, and how often and why it could not be judged."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from math import sqrt
from typing import Final

from service.analysis.faults import CATALOGUE, title_of
from service.analysis.types import Status
from service.lessons.estimates import NORMAL_95
from service.lessons.not_judged import NOT_TOLD

_NUMBER: Final = re.compile(r"-?\d{1,15}(\.\d{1,15})?")


@dataclass(frozen=True)
class FaultRate:
    """One fault among the swings of a group.

    Attributes
    ----------
    reasons
        Of the swings in which it is not assessable, how many for which reason.
    """

    fault: str
    present: int = 0
    absent: int = 0
    uncertain: int = 0
    reasons: Mapping[str, int] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """The fault in words; its name where the catalogue no longer has it."""
        return title_of(self.fault)

    @property
    def not_assessable(self) -> int:
        """Swings in which it could not be judged."""
        return sum(self.reasons.values())

    @property
    def decided(self) -> int:
        """Swings in which it was found present or absent."""
        return self.present + self.absent

    @property
    def swings(self) -> int:
        """Swings that say anything of it."""
        return self.decided + self.uncertain + self.not_assessable

    @property
    def rate(self) -> float | None:
        """Share of the decided swings that have it; ``None`` where none was decided."""
        return self.present / self.decided if self.decided else None

    @property
    def interval(self) -> tuple[float, float] | None:
        """The rate's 95 % interval, which takes the swings as independent of one another."""
        return wilson_interval(self.present, self.decided) if self.decided else None

    @property
    def unjudged(self) -> float:
        """Share of the swings in which it was not assessable."""
        return self.not_assessable / self.swings if self.swings else 0.0

    @property
    def main_reason(self) -> str | None:
        """The commonest reason why it was not assessable."""
        return max(self.reasons, key=lambda code: self.reasons[code], default=None)


@dataclass(frozen=True)
class Group:
    """Swings that are alike in what the summary goes by.

    Attributes
    ----------
    name
        What they are alike in; ``None`` for those that don't tell.
    swings
        Clips in which a golf swing was found.
    no_swing
        Clips in which none was found.
    rates
        In the order of the catalogue.
    """

    name: str | None
    swings: int
    no_swing: int
    rates: tuple[FaultRate, ...]


@dataclass(frozen=True)
class Summary:
    """Fault rates of many swings.

    Attributes
    ----------
    by
        What the groups go by; ``None`` where all are one.
    total
        All swings together.
    groups
        The largest first; those that are numbers, such as years and handicaps, by these.
    left_out
        Groups beyond the largest, which are only part of ``total``.
    refused
        What should be swings and could not be read.
    passed_over
        How many files hold something else, by how their names end; of an archive alone.
    films
        How many of those are films, which can be made swings of.
    copies
        How many of the clips are copies of others, which count all the same.
    """

    by: str | None
    total: Group
    groups: tuple[Group, ...] = ()
    left_out: int = 0
    refused: int = 0
    passed_over: Mapping[str, int] = field(default_factory=dict)
    films: int = 0
    copies: int = 0

    @property
    def by_fault(self) -> Iterator[tuple[FaultRate, tuple[tuple[Group, FaultRate], ...]]]:
        """Each fault: its rate in all swings, and in each group that says anything of it."""
        of_groups = [{rate.fault: rate for rate in group.rates} for group in self.groups]
        for total in self.total.rates:
            pairs = zip(self.groups, of_groups, strict=True)
            yield total, tuple((g, of[total.fault]) for g, of in pairs if total.fault in of)


class Counts:
    """Findings and clips counted as they come, then summed up."""

    def __init__(self) -> None:
        self._clips: Counter[tuple[str | None, bool]] = Counter()
        self._findings: Counter[tuple[str | None, str, str, str]] = Counter()
        self._refused = 0

    def add_clips(self, group: str | None, found: bool, count: int) -> None:
        """Add clips of a group, in which a golf swing was found or not."""
        self._clips[group, found] += count

    def add_findings(
        self, group: str | None, fault: str, status: str, reason: str | None, count: int
    ) -> None:
        """Add findings about a fault with one status; the reason is that of not assessable ones."""
        self._findings[group, fault, status, reason or NOT_TOLD] += count

    def add_refused(self, count: int) -> None:
        """Add inputs that could not be read."""
        self._refused += count

    def summary(self, by: str | None, most_groups: int) -> Summary:
        """Everything counted so far.

        Parameters
        ----------
        most_groups
            Groups told; those with the fewest swings are left out.
        """
        total = self._group(None, {group for group, _ in self._clips})
        if by is None:
            return Summary(None, total, refused=self._refused)
        names = sorted({group for group, _ in self._clips}, key=self._size_and_name)
        told = names[:most_groups]
        if all(name is None or _NUMBER.fullmatch(name) for name in told):
            told.sort(key=lambda name: (name is None, float(name or 0)))
        groups = tuple(self._group(name, {name}) for name in told)
        return Summary(by, total, groups, max(0, len(names) - most_groups), self._refused)

    def _size_and_name(self, group: str | None) -> tuple[int, bool, str]:
        size = self._clips[group, True] + self._clips[group, False]
        return -size, group is None, group or ""

    def _group(self, name: str | None, groups: set[str | None]) -> Group:
        found, not_found = (
            sum(self._clips[group, is_found] for group in groups) for is_found in (True, False)
        )
        of_fault: dict[str, Counter[str]] = {}
        reasons: dict[str, Counter[str]] = {}
        for (group, fault, status, reason), count in self._findings.items():
            if group not in groups:
                continue
            of_fault.setdefault(fault, Counter())[status] += count
            if status == Status.NOT_ASSESSABLE:
                reasons.setdefault(fault, Counter())[reason] += count
        rates = tuple(
            FaultRate(
                fault,
                counts[Status.PRESENT],
                counts[Status.ABSENT],
                counts[Status.UNCERTAIN],
                _commonest_first(reasons.get(fault, Counter())),
            )
            for fault, counts in ((name, of_fault[name]) for name in _in_order(of_fault))
        )
        return Group(name, found, not_found, rates)


def wilson_interval(present: int, swings: int) -> tuple[float, float]:
    """The 95 % interval of a rate after E. B. Wilson, "Probable inference, the law of succession,
    and statistical inference", Journal of the American Statistical Association 22, 209-212, 1927.

    Raises
    ------
    ValueError
        Without any swing.

    >>> low, high = wilson_interval(0, 10)
    >>> low, round(high, 3)
    (0.0, 0.278)
    """
    if swings <= 0 or not 0 <= present <= swings:
        raise ValueError(f"{present} of {swings} swings is no rate")
    rate, z2 = present / swings, NORMAL_95**2
    middle = (rate + z2 / (2 * swings)) / (1 + z2 / swings)
    half = NORMAL_95 / (1 + z2 / swings) * sqrt(rate * (1 - rate) / swings + z2 / (4 * swings**2))
    low = 0.0 if present == 0 else max(0.0, middle - half)
    return low, 1.0 if present == swings else min(1.0, middle + half)


def _commonest_first(counts: Counter[str]) -> dict[str, int]:
    """Counts with the largest first, equal ones by name, whichever way they came."""
    return dict(sorted(counts.items(), key=lambda each: (-each[1], each[0])))


def _in_order(faults: Iterable[str]) -> list[str]:
    """Faults as the catalogue has them, those that it no longer has last."""
    place = {name: number for number, name in enumerate(CATALOGUE)}
    return sorted(faults, key=lambda name: (place.get(name, len(place)), name))
