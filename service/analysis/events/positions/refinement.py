"""Positions placed better than any one threshold can: by rules learnt over marks.

A rule over the marks of :mod:`service.analysis.events.positions.marks` tells the moment from them.
It is learnt on golfers of several makes (``python -m training.models.fit_positions``), so that no
one generator's way of starting, turning and stopping is taken for a player's, for each view, with
and without a club: down the line much of the path lies along the line of sight. How many frames a
second there are and how far the points may be off is among the marks, for the first centimetres
can't be told from the jitter everywhere. Marks are taken in the movement's own unit of time, so
that a rehearsal, which is slower, goes by the same rule as a swing at full speed. Each rule says
what it leaves over on golfers it was not learnt from, and that is the position's uncertainty.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from importlib import resources
from math import sqrt
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.positions.marks import Marks
from service.analysis.types import FloatArray, View

REFINED: Final[tuple[int, ...]] = (4, 1, 7, 2, 6, 8, 10, 3, 5, 9)
"""The positions so placed."""
BY_CLUB: Final[frozenset[int]] = frozenset({2, 6, 8})
"""Positions the shaft itself shows where it is seen; a rule places them only without it."""
TABLE: Final[str] = "refinement.json"
_FARTHEST: Final[dict[int, float]] = {
    1: 1.0,
    2: 1.0,
    3: 1.0,
    4: 2.0,
    5: 1.0,
    9: 1.0,
    6: 1.0,
    7: 1.0,
    8: 1.0,
    10: 3.0,
}
"""How far from where thresholds place it a position may be moved, in the marks' unit of time."""


_ROUNDING: Final[float] = 1e-9
"""In the unit of any mark."""
_in_use: ContextVar[Path | None] = ContextVar("rules in use", default=None)


class Case(NamedTuple):
    """What a rule is for."""

    number: int
    view: View
    club: bool
    """Whether the clubhead is seen."""


@dataclass(frozen=True)
class Rule:
    """What tells a moment from marks: boosted trees, all of one depth, whose leaves add up.

    Which marks can be trusted hangs on how noisy and how fast a swing is, and on which are seen at
    all; trees follow that where a weighted sum can't.

    Attributes
    ----------
    base : float
        What is told before any tree, in the marks' unit of time.
    mark : array of shape (n_trees, 2 ** depth - 1), integers
        Which mark each split looks at; below split ``k`` of a tree are ``2 k + 1`` and, the upper
        way, ``2 k + 2``. ``n_marks`` is added where a mark not seen goes the upper way.
    level : array of shape (n_trees, 2 ** depth - 1)
        A mark above it goes the upper way.
    leaf : array of shape (n_trees, 2 ** depth)
    n_marks : int
    spread : tuple of three floats
        Parts of one standard deviation of what the rule leaves: seconds, shares of the marks'
        unit of time, and shares of the time between frames. They add as variances.
    """

    base: float
    mark: NDArray[np.intp]
    level: FloatArray
    leaf: FloatArray
    n_marks: int
    spread: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def told(self, values: FloatArray) -> float:
        """What marks of shape (n_marks,) tell, in their unit of time.

        >>> rule = Rule(0.5, np.array([[1]]), np.array([[0.0]]), np.array([[0.25, 0.75]]), 2)
        >>> [rule.told(np.array([9.0, mark])) for mark in (-1.0, 1.0, np.nan)]
        [0.75, 1.25, 0.75]
        """
        return self.base + float(np.add.reduce(self.leaves(values)))

    def leaves(self, values: FloatArray) -> FloatArray:
        """The leaf that marks of shape (n_marks,) come to in each tree, shape (n_trees,)."""
        lost = np.isnan(values)
        either = np.concatenate([np.where(lost, -np.inf, values), np.where(lost, np.inf, values)])
        upper = (either.take(self.mark) > self._upper_from).ravel()
        at = upper.take(self._first) + 1  # places in a tree, the topmost split's being 0
        for _ in range(1, self._depth):
            at += at + upper.take(at + self._first) + 1
        return self.leaf.take(at + self._first_leaf)

    @cached_property
    def _upper_from(self) -> FloatArray:
        """The levels beyond rounding: some marks are the same in every swing but for that."""
        return self.level + _ROUNDING

    @cached_property
    def _depth(self) -> int:
        return int(self.leaf.shape[1]).bit_length() - 1

    @cached_property
    def _first(self) -> NDArray[np.intp]:
        return np.asarray(np.arange(len(self.mark)) * self.mark.shape[1])

    @cached_property
    def _first_leaf(self) -> NDArray[np.intp]:
        first = np.arange(len(self.leaf)) * self.leaf.shape[1]
        return np.asarray(first - self.mark.shape[1])

    def uncertainty(self, marks: Marks) -> float:
        """One standard deviation in seconds: 0.005 from parts of 0.003 s and of 0.04 of a unit of
        0.1 s."""
        fixed, of_unit, of_frame = self.spread
        parts = fixed**2 + (of_unit * marks.unit) ** 2 + (of_frame * marks.frame) ** 2
        return sqrt(parts)


def refine(
    asked: Mapping[Case, tuple[Marks, float]],
) -> dict[Case, tuple[float, float]]:
    """Better times for positions and their standard deviations; where there are none the old stay.

    Parameters
    ----------
    asked
        What is seen about each position, and where thresholds place it in seconds.
    """
    fitting = tuple(
        case
        for case, (marks, _) in asked.items()
        if case in rules() and len(marks.values) == rules()[case].n_marks
    )
    better = {}
    told = _told(fitting, [asked[case][0].values for case in fitting])
    for case, moved in zip(fitting, told, strict=True):
        marks, placed = asked[case]
        time = marks.reference + marks.unit * moved
        if abs(time - placed) <= _FARTHEST[case.number] * marks.unit:
            better[case] = time, rules()[case].uncertainty(marks)
    return better


def _told(cases: tuple[Case, ...], values: Sequence[FloatArray]) -> list[float]:
    """What the rule of each case tells from its marks: all trees in one go, as numpy spends more
    time on its arguments than on the few numbers of one rule."""
    if not cases:
        return []
    trees, firsts, bases = _together(_in_use.get(), cases)
    moved: FloatArray = np.add.reduceat(trees.leaves(np.concatenate(values)), firsts) + bases
    return [float(each) for each in moved]


@lru_cache(maxsize=64)
def _together(
    path: Path | None, cases: tuple[Case, ...]
) -> tuple[Rule, NDArray[np.intp], FloatArray]:
    """The trees of some rules as those of one, whose marks are theirs in turn.

    Returns
    -------
    that rule, the place of each one's first tree in it, and what each tells before any tree
    """
    own = [_read(path)[case] for case in cases]
    n_marks = sum(rule.n_marks for rule in own)
    marks, before = [], 0
    for rule in own:
        upward = rule.mark >= rule.n_marks
        marks.append(rule.mark + before + np.where(upward, n_marks - rule.n_marks, 0))
        before += rule.n_marks
    sizes = [len(rule.mark) for rule in own]
    trees = Rule(
        base=0.0,
        mark=np.concatenate(marks),
        level=np.concatenate([rule.level for rule in own]),
        leaf=np.concatenate([rule.leaf for rule in own]),
        n_marks=n_marks,
    )
    return trees, np.cumsum([0, *sizes[:-1]]), np.array([rule.base for rule in own])


@contextmanager
def using_rules(path: Path) -> Iterator[None]:
    """Go by the rules of another file while this lasts: those learnt without some make of golfers,
    say, when that make is what they are held against."""
    before = _in_use.set(path)
    try:
        yield
    finally:
        _in_use.reset(before)


def rules() -> dict[Case, Rule]:
    """Every rule in use, by what it is for."""
    return _read(_in_use.get())


@cache
def _read(path: Path | None) -> dict[Case, Rule]:
    at = (
        resources.files("service.analysis.events.positions").joinpath(TABLE)
        if path is None
        else path
    )
    return {
        Case(entry["position"], View(entry["view"]), entry["club"]): Rule(
            base=entry["base"],
            mark=np.array(entry["mark"], dtype=np.intp),
            level=np.array(entry["level"], dtype=float),
            leaf=np.array(entry["leaf"], dtype=float),
            n_marks=entry["n_marks"],
            spread=tuple(entry["spread"]),
        )
        for entry in json.loads(at.read_text(encoding="utf-8"))["rules"]
    }
