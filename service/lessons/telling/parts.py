"""What a story is made of: chapters, priorities, keys of the coach's own, what to keep."""

from __future__ import annotations

from dataclasses import dataclass

from service.analysis.types import Finding, Reason, View
from service.lessons.coach.edits import OwnKey


@dataclass(frozen=True)
class Compensation:
    """A fault found that others found tend to bring; ``brought_by`` are their names."""

    finding: Finding
    brought_by: tuple[str, ...]


@dataclass(frozen=True)
class Chapter:
    """A cause with the compensations that it explains, each after what brings it.

    A compensation that several causes explain stands once, in the first chapter told.
    """

    cause: Finding
    compensations: tuple[Compensation, ...]


@dataclass(frozen=True)
class VideoCheck:
    """How to see on video whether a fault is gone.

    ``position`` is the position coordinate to stop at. ``text`` says it in words and
    ``numbers`` in values against thresholds.
    """

    views: tuple[View, ...]
    at: str
    position: float
    text: str
    numbers: str


@dataclass(frozen=True)
class Priority:
    """A fault to work on.

    ``description`` says what the player does and ``behind`` why it often happens, without causes
    that were seen to be absent; ``effect`` is what it does to the swing, and which other faults
    found may ease with it; ``dose`` is how often and how fast to do what
    ``work_on`` asks for. ``unseen_causes`` are faults that tend to bring this one and could
    not be judged. ``reworded`` names what a coach put in other words.
    """

    finding: Finding
    why: str
    effect: str
    dose: str
    description: str
    behind: str
    work_on: str
    check: VideoCheck
    unseen_causes: tuple[str, ...]
    cautions: tuple[str, ...]
    reworded: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlacedKey:
    """A key of the coach's own; ``place`` counts all keys from 1."""

    key: OwnKey
    place: int


@dataclass(frozen=True)
class Keep:
    """What the player does well: a fault clearly absent, told as something to keep."""

    fault: str
    text: str


@dataclass(frozen=True)
class Unseen:
    """A fault that could not be judged, and why."""

    fault: str
    title: str
    reason: Reason


@dataclass(frozen=True)
class Story:
    """What the findings mean together.

    ``chapters`` are in the order of the swing, ``priorities`` by rank or as a coach put them.
    ``own_keys`` are the coach's, to be told in their places among the priorities, ``hidden``
    the faults found that the coach doesn't want as keys, and ``not_found`` those that the coach
    wants and that are not found.
    """

    chapters: tuple[Chapter, ...]
    priorities: tuple[Priority, ...]
    keep: tuple[Keep, ...]
    unseen: tuple[Unseen, ...]
    own_keys: tuple[PlacedKey, ...] = ()
    hidden: tuple[str, ...] = ()
    not_found: tuple[str, ...] = ()

    @property
    def keys(self) -> tuple[Priority | PlacedKey, ...]:
        """Priorities and the coach's own keys, in the order in which they are told."""
        own, others = {key.place: key for key in self.own_keys}, iter(self.priorities)
        places = range(1, len(self.priorities) + len(own) + 1)
        return tuple(own[place] if place in own else next(others) for place in places)
