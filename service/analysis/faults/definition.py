"""The one definition of a fault that rules, labels, documentation and reports share."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

from service.analysis.measures.general import Measure
from service.analysis.pose.points import Point
from service.analysis.types import View

COMMON_PRACTICE: Final[str] = "common practice"
CAUTIONS: Final[tuple[str, ...]] = (
    "Warm up before you swing and build speed gradually.",
    "Stop if anything hurts, and see a clinician before you go on.",
    "Make a swing change with a qualified coach; this is not medical advice.",
)


class Direction(StrEnum):
    """Which side of the threshold speaks for the fault."""

    ABOVE = "above"
    BELOW = "below"


@dataclass(frozen=True)
class Criterion:
    """A measure against its threshold.

    ``grey`` is the half-width of the zone about the threshold in which coaches would
    differ, in the measure's unit. ``moderate`` and ``marked`` are the values at which
    the fault stops being mild. ``reference`` is a source or ``common practice``.
    """

    measure: Measure
    direction: Direction
    threshold: float
    grey: float
    moderate: float
    marked: float
    reference: str
    note: str | None = None


@dataclass(frozen=True)
class FaultDefinition:
    """One kind of fault.

    ``criteria`` holds the ways to see it, one tuple a view; every criterion of the
    tuple must be met, and the first is the one the severity is told in. ``brings``
    names faults that this one tends to bring. ``min_frames`` is how many frames the
    footage must have inside the window of the leading criterion for the fault to be
    judged: a blink of the swing that falls between two frames was not seen. What moves
    slowly against the window needs fewer.
    ``full_speed_only`` marks what a slow rehearsal can't show. ``shows_at`` is the
    position at which to show a fault whose measure does not vary within its window.
    ``kept`` says what a swing clearly without the fault does well.
    """

    name: str
    title: str
    description: str
    criteria: dict[View, tuple[Criterion, ...]]
    causes: tuple[str, ...]
    checkpoint: str
    brings: tuple[str, ...] = ()
    min_frames: float = 1.5
    full_speed_only: bool = False
    shows_at: float | None = None
    cautions: tuple[str, ...] = CAUTIONS
    kept: str = field(kw_only=True)

    @property
    def views(self) -> tuple[View, ...]:
        """The camera views in which the fault can be seen."""
        return tuple(self.criteria)

    def needs(self, view: View) -> tuple[Point, ...]:
        """The points needed to judge the fault from one view, in point order."""
        criteria = self.criteria[view]
        return tuple(sorted({p for c in criteria for p in c.measure.needs}))
