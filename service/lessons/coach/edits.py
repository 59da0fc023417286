"""What a coach changes of the keys of one lesson's recap."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.analysis.types import View

MOST_SHOWN: Final[int] = 3
"""Keys that a coach may show; the service itself shows two."""
MOST_SHAPES: Final[int] = 12

Place = tuple[float, float]
"""A place in a picture: x to the right and y up, in body heights from the middle of the feet at
address, so that 1 is about the top of the head of a player who stands upright."""


class ShapeKind(StrEnum):
    """What can be drawn."""

    LINE = "line"
    ANGLE = "angle"
    CIRCLE = "circle"

    @property
    def n_points(self) -> int:
        """How many places make one: two ends, end, corner and end, or the middle."""
        return {ShapeKind.LINE: 2, ShapeKind.ANGLE: 3, ShapeKind.CIRCLE: 1}[self]


@dataclass(frozen=True)
class Shape:
    """One shape over a picture; ``radius``, in body heights, is that of a circle alone."""

    kind: ShapeKind
    points: tuple[Place, ...]
    radius: float | None = None
    label: str | None = None


@dataclass(frozen=True)
class KeyWords:
    """A key in a coach's words; what is ``None`` stays the service's, or is not told."""

    description: str | None = None
    effect: str | None = None
    work_on: str | None = None
    dose: str | None = None
    check: str | None = None


@dataclass(frozen=True)
class KeyEdit:
    """A fault as a key: in this place, in these words, or not at all."""

    fault: str
    hidden: bool
    words: KeyWords


@dataclass(frozen=True)
class OwnKey:
    """A key of the coach's own, with a position from P1 to P10 and what to draw over it.

    ``view`` is the side it is to be seen from, ``None`` for whichever was filmed.
    """

    title: str
    position: int
    view: View | None
    words: KeyWords
    drawing: tuple[Shape, ...] = ()


@dataclass(frozen=True)
class RecapEdits:
    """The keys in a coach's order; those that the service has beside them come after."""

    keys: tuple[KeyEdit | OwnKey, ...] = ()

    @property
    def named(self) -> frozenset[str]:
        """Faults that something is said of."""
        return frozenset(key.fault for key in self.keys if isinstance(key, KeyEdit))

    @property
    def shown(self) -> tuple[str, ...]:
        """Faults that are to be keys."""
        return tuple(k.fault for k in self.keys if isinstance(k, KeyEdit) and not k.hidden)

    @property
    def hidden(self) -> tuple[str, ...]:
        """Faults that are not to be keys."""
        return tuple(k.fault for k in self.keys if isinstance(k, KeyEdit) and k.hidden)


NO_EDITS: Final = RecapEdits()
