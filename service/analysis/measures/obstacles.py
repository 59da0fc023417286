"""Which measures can be taken of a swing, and why not the others."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Final, NamedTuple

import numpy as np

from service.analysis.events.normalized import GRID, grid_index
from service.analysis.measures.definition import Measure, MeasuredValue
from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import BoolArray, Position, Reason, Source, View

LEAST_SEEN: Final[float] = 0.7
"""Share of a measure's window in which its points must be seen."""


def how_found(positions: tuple[Position, ...]) -> tuple[tuple[Source, Reason | None], ...]:
    """Of P1 to P10, as far as it decides what can be measured."""
    return tuple((position.source, position.reason) for position in positions)


class Shown(NamedTuple):
    """What of a swing decides which measures can be taken."""

    view: View
    found: tuple[tuple[Source, Reason | None], ...]
    """How P1 to P10 were found."""
    missing: bytes
    """Of the swing's :attr:`NormalizedSwing.missing`."""


@dataclass(frozen=True, eq=False)
class Plan:
    """Which measures can be taken of a swing, by name, and why the others can't."""

    taken: frozenset[str]
    obstacles: dict[str, MeasuredValue | Reason]


@lru_cache(maxsize=256)
def plan_for(measures: tuple[Measure, ...], shown: Shown) -> Plan:
    """What to take of a swing; most clips of a camera show the same."""
    missing = np.frombuffer(shown.missing, dtype=bool).reshape(N_POINTS, len(GRID))
    reasons = {measure.name: _obstacle(measure, shown, missing) for measure in measures}
    return Plan(
        frozenset(name for name, reason in reasons.items() if reason is None),
        {name: reason for name, reason in reasons.items() if reason is not None},
    )


def _obstacle(measure: Measure, shown: Shown, missing: BoolArray) -> Reason | None:
    if shown.view not in measure.views:
        return measure.not_in_view
    for number in measure.needs_positions:
        source, why = shown.found[number - 1]
        if source is Source.NOT_FOUND:
            return _position_missing(measure, number, why)
    for number in measure.observed:
        if shown.found[number - 1][0] is not Source.OBSERVED:
            return Reason(
                "position_inferred",
                f"{measure.title} needs P{number} to be seen; the clip may start after it.",
            )
    unseen = tuple(point for point in measure.needs if _unseen(missing[point], measure))
    return _points_not_seen(unseen) if unseen else None


@cache
def _points_not_seen(points: tuple[Point, ...]) -> Reason:
    names = ", ".join(point.label for point in points)
    return Reason("points_not_seen", f"Not seen well enough for this: {names}.")


def _unseen(lost: BoolArray, measure: Measure) -> bool:
    share = np.count_nonzero(lost[measure.window]) / len(lost[measure.window])
    return bool(share > 1.0 - LEAST_SEEN or any(lost[grid_index(at)] for at in measure.against))


def _position_missing(measure: Measure, number: int, why: Reason | None) -> Reason:
    code = why.code if why else "position_not_found"
    told = f" {why.text}" if why else ""
    return Reason(code, f"{measure.title} needs P{number}, which was not found.{told}")
