"""The words of an analysis: the few values that a property of a clip or a finding may have.

They are what requests and answers say, so that none is ever renamed.
"""

from __future__ import annotations

from enum import StrEnum


class View(StrEnum):
    """Where the camera stands."""

    FACE_ON = "face_on"
    DOWN_THE_LINE = "down_the_line"


class Handedness(StrEnum):
    """Which way the player plays: a right-hander's lead side is the left."""

    RIGHT = "right"
    LEFT = "left"


class Intent(StrEnum):
    """What the swing was meant to be."""

    FULL_SPEED = "full_speed"
    REHEARSAL = "rehearsal"


class Club(StrEnum):
    """Kind of club in the player's hands."""

    DRIVER = "driver"
    FAIRWAY_WOOD = "fairway_wood"
    HYBRID = "hybrid"
    LONG_IRON = "long_iron"
    MID_IRON = "mid_iron"
    SHORT_IRON = "short_iron"
    WEDGE = "wedge"
    WOOD = "wood"
    """A driver or a fairway wood, where no more is known."""
    IRON = "iron"
    """A long, a mid or a short iron, where no more is known."""

    @property
    def kinds(self) -> frozenset[Club]:
        """What it may be: itself, or what is of its family."""
        families = {
            Club.WOOD: {Club.DRIVER, Club.FAIRWAY_WOOD},
            Club.IRON: {Club.LONG_IRON, Club.MID_IRON, Club.SHORT_IRON},
        }
        return frozenset(families.get(self, {self}))


class Source(StrEnum):
    """How a position was found."""

    OBSERVED = "observed"
    INFERRED = "inferred"
    NOT_FOUND = "not_found"


class Status(StrEnum):
    """What a finding says about its fault."""

    PRESENT = "present"
    ABSENT = "absent"
    UNCERTAIN = "uncertain"
    NOT_ASSESSABLE = "not_assessable"

    @property
    def is_decided(self) -> bool:
        """Whether it says that the fault is there, or that it is not."""
        return self in (Status.PRESENT, Status.ABSENT)


class Grade(StrEnum):
    """How strongly a present fault shows."""

    MILD = "mild"
    MODERATE = "moderate"
    MARKED = "marked"


class CoachVerdict(StrEnum):
    """What a coach says about a fault, whatever the service found.

    ``CONFIRM``: the fault is there. ``REJECT``: it is not. ``UNSURE``: the coach can't tell either.
    """

    CONFIRM = "confirm"
    REJECT = "reject"
    UNSURE = "unsure"


class Level(StrEnum):
    """How much a remark on the footage matters."""

    INFO = "info"
    WARNING = "warning"
