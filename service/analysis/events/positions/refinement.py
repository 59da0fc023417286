"""Positions placed better than any one threshold can: by rules learnt over marks.

A linear rule over the marks of :mod:`service.analysis.events.positions.marks` tells the moment
from them. It is learnt on golfers of several makes (``python -m training.models.fit_positions``),
so that no one generator's way of starting, turning and stopping is taken for a player's, for each
view, with and without a club, and apart for few frames a second: down the line much of the path
lies along the line of sight, and at 30 frames a second the first centimetres can't be told from the
jitter. Marks are taken in the movement's own unit of time, so that a rehearsal, which is slower,
goes by the same rule as a swing at full speed. Each rule says what it leaves over on golfers it was
not learnt from, and that is the position's uncertainty.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from importlib import resources
from math import sqrt
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np

from service.analysis.events.positions.marks import Marks
from service.analysis.types import FloatArray, View

REFINED: Final[tuple[int, ...]] = (4, 1, 7, 2, 6, 8, 10)
"""The positions so placed, in the order in which it is done."""
BY_CLUB: Final[frozenset[int]] = frozenset({2, 6, 8})
"""Positions the shaft itself shows where it is seen; a rule places them only without it."""
TABLE: Final[str] = "refinement.json"
_FEW_FRAMES: Final[float] = 1.0 / 45.0
"""Seconds between frames above which a clip counts as one of few frames: between the usual 30 and
50 a second."""
_FARTHEST: Final[dict[int, float]] = {1: 1.0, 2: 1.0, 4: 2.0, 6: 1.0, 7: 1.0, 8: 1.0, 10: 3.0}
"""How far from where thresholds place it a position may be moved, in the marks' unit of time."""


_in_use: ContextVar[Path | None] = ContextVar("rules in use", default=None)


class Case(NamedTuple):
    """What a rule is for."""

    number: int
    view: View
    club: bool
    few_frames: bool


def case_of(number: int, view: View, marks: Marks, *, club: bool) -> Case:
    """The case that some marks belong to; ``club`` is whether the clubhead is seen."""
    return Case(number, view, club, marks.frame > _FEW_FRAMES)


@dataclass(frozen=True)
class Rule:
    """A linear rule over marks: those not seen take their usual value.

    Attributes
    ----------
    weights, usual : arrays of shape (n_marks,)
    intercept : float
        In the marks' unit of time.
    spread : tuple of three floats
        Parts of one standard deviation of what the rule leaves: seconds, shares of the marks'
        unit of time, and shares of the time between frames. They add as variances.
    """

    weights: FloatArray
    usual: FloatArray
    intercept: float
    spread: tuple[float, float, float]

    def time(self, marks: Marks) -> float:
        """Time of the position in seconds."""
        values = np.where(np.isnan(marks.values), self.usual, marks.values)
        return marks.reference + marks.unit * float(values @ self.weights + self.intercept)

    def uncertainty(self, marks: Marks) -> float:
        """One standard deviation in seconds.

        >>> rule = Rule(np.zeros(1), np.zeros(1), 0.0, (0.003, 0.04, 0.0))
        >>> round(rule.uncertainty(Marks(np.zeros(1), 1.0, 0.1, 0.02)), 6)
        0.005
        """
        fixed, of_unit, of_frame = self.spread
        parts = fixed**2 + (of_unit * marks.unit) ** 2 + (of_frame * marks.frame) ** 2
        return sqrt(parts)


def refine(case: Case, marks: Marks, placed: float) -> tuple[float, float] | None:
    """A better time for a position and its standard deviation, or ``None`` to keep the old.

    Parameters
    ----------
    placed : float
        Where thresholds place it, seconds.
    """
    rule = rules().get(case)
    if rule is None or marks.values.shape != rule.weights.shape:
        return None
    time, farthest = rule.time(marks), _FARTHEST[case.number] * marks.unit
    if not abs(time - placed) <= farthest:
        return None
    return time, rule.uncertainty(marks)


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
        Case(entry["position"], View(entry["view"]), entry["club"], entry["few_frames"]): Rule(
            np.array(entry["weights"]),
            np.array(entry["usual"]),
            entry["intercept"],
            tuple(entry["spread"]),
        )
        for entry in json.loads(at.read_text(encoding="utf-8"))["rules"]
    }
