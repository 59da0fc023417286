"""The one definition of a fault that rules, labels, documentation and reports share."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Final, overload

from service.analysis.measures.definition import Measure
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View

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
    """A measure against its threshold, given as ``above`` or as ``below``.

    Attributes
    ----------
    measure
        What is measured.
    above, below
        The threshold beyond which the fault is there, exactly one of the two.
    grey
        Half-width of the zone about the threshold in which coaches would differ.
    moderate, marked
        The values at which the fault stops being mild and starts being marked.
    reference
        A source (rendered by :func:`service.analysis.bibliography.cite`) or ``common practice``.

    Thresholds, ``grey``, ``moderate`` and ``marked`` are in the measure's unit.

    Raises
    ------
    ValueError
        Unless exactly one of ``above`` and ``below`` is given.
    """

    measure: Measure
    _: KW_ONLY
    above: float | None = None
    below: float | None = None
    grey: float
    moderate: float
    marked: float
    reference: str
    note: str | None = None

    def __post_init__(self) -> None:
        if (self.above is None) == (self.below is None):
            raise ValueError(
                f"{self.measure.name}: give above or below, not both and not neither; "
                f"received above={self.above}, below={self.below}."
            )

    @cached_property
    def direction(self) -> Direction:
        """The side of the threshold that speaks for the fault."""
        return Direction.BELOW if self.above is None else Direction.ABOVE

    @cached_property
    def threshold(self) -> float:
        """The threshold, whichever side of it speaks for the fault."""
        threshold = self.below if self.above is None else self.above
        assert threshold is not None
        return threshold

    @overload
    def excess(self, value: float) -> float: ...
    @overload
    def excess(self, value: FloatArray) -> FloatArray: ...
    def excess(self, value: float | FloatArray) -> float | FloatArray:
        """How far a value, or each of many, lies beyond the threshold on the faulty side.

        Positive where it speaks for the fault, in the measure's unit; NaN stays NaN. An array may
        have any shape.
        """
        return value - self.threshold if self.below is None else self.threshold - value


@dataclass(frozen=True, eq=False)
class FaultDefinition:
    """One kind of fault; each is one of its kind.

    ``criteria`` holds the ways to see it, one tuple a view; every criterion of the
    tuple must be met, and the first is the one the severity is told in. ``brings``
    names faults that this one tends to bring. ``min_frames`` is how many frames the
    footage must have inside the window of the leading criterion for the fault to be
    judged: a blink of the swing that falls between two frames was not seen. What moves
    slowly against the window needs fewer.
    ``full_speed_only`` marks what a slow rehearsal can't show. ``shows_at`` is the
    position at which to show a fault whose measure does not vary within its window.
    ``unless`` names the remarks on the footage with which it can't be judged.
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
    unless: tuple[str, ...] = ()
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
