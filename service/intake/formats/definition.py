"""What a pose library's format is to the intake, and the small pieces that readers share."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from service.intake.errors import (
    Complaints,
    FieldError,
    InvalidRequest,
    json_pointer,
    kind_of,
)

Point = list[float | None] | None
"""``[x, y, confidence]``, the confidence ``None`` where the library gave none; ``None`` missing."""
Person = list[Point]
"""One person in one frame, a point a column of the layout."""
Frame = list[Person]
"""Everybody who was seen in one frame, in the order of the library."""

CONFIDENCE: Final = 2
"""Place of the confidence in a point."""

_IN_QUOTES: Final = FieldError(
    "/keypoints",
    "holds texts where numbers belong",
    "Send numbers without quotes: turn what the pose library gives into numbers before it is "
    "written as JSON.",
)


@dataclass(frozen=True)
class People:
    """What a reader made of the frames.

    Attributes
    ----------
    frames
        One entry a frame.
    layout
        Name of a published layout, or one point name (or ``None``) a column.
    normalised
        Whether x and y are fractions of the image's width and height rather than pixels.
    places
        The place of each frame in the film, where the library numbers frames and leaves out those
        in which it found nobody; else none.
    """

    frames: list[Frame]
    layout: str | tuple[str | None, ...]
    normalised: bool
    places: tuple[int, ...] = ()


@dataclass(frozen=True)
class PoseFormat:
    """An open format in which pose libraries hand out keypoints.

    Attributes
    ----------
    name, title, source
        ``name`` is what a caller sends, ``source`` where the format is described.
    shape
        One frame in words.
    detectable
        Whether it can be told from all other formats by its shape.
    recognises
        Whether what was sent has the shape of this format, by its first frame that holds anybody.
    read
        Reads what was sent; told of everything wrong it returns ``None``.
    y_up
        Whether y grows up the picture in it; what is read has it grow downwards.
    """

    name: str
    title: str
    source: str
    shape: str
    detectable: bool
    recognises: Callable[[object], bool]
    read: Callable[[object, Complaints], People | None]
    y_up: bool = False


def number(value: object) -> float | None:
    """A finite JSON number as a float, anything else as ``None``.

    >>> number(3), number(True), number(float("nan"))
    (3.0, None, None)

    Raises
    ------
    InvalidRequest
        Where it is a text: points would be lost, or taken for sure, without a word.
    """
    if isinstance(value, str):
        raise InvalidRequest((_IN_QUOTES,))
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        return float(value) if math.isfinite(value) else None
    except OverflowError:
        return None


def share(value: object) -> float | None:
    """A confidence held within 0 and 1, as some libraries overshoot by a last bit."""
    told = number(value)
    return None if told is None else min(max(told, 0.0), 1.0)


def point_of_object(raw: Mapping[str, object], confidences: Sequence[str]) -> Point:
    """A point from an object with ``x`` and ``y`` and, under any of some names, its confidence."""
    x, y = number(raw.get("x")), number(raw.get("y"))
    if x is None or y is None:
        return None
    told = (share(raw[name]) for name in confidences if name in raw)
    return [x, y, next((c for c in told if c is not None), None)]


def points_of_flat(flat: Sequence[object]) -> Person | None:
    """Points from numbers in threes; ``None`` where they are no such list."""
    if len(flat) % 3 or any(value is not None and number(value) is None for value in flat):
        return None
    values = [number(value) for value in flat]
    triples = [values[k : k + 3] for k in range(0, len(values), 3)]
    return [None if x is None or y is None else [x, y, c] for x, y, c in triples]


def frames_of(raw: object, complaints: Complaints, shape: str) -> list[object]:
    """The frames that were sent; complains where they are no list."""
    if isinstance(raw, list):
        return raw
    complaints.add("/keypoints", f"is {kind_of(raw)}, not a list of frames", f"Send {shape}")
    return []


def first_filled(raw: object) -> object:
    """The first frame that holds anything; ``None`` without one."""
    frames = raw if isinstance(raw, list) else []
    return next((frame for frame in frames if frame), None)


class Wrong:
    """Frames that don't fit, told once with the first place and the count."""

    MOST_TOLD: Final[int] = 3

    def __init__(self, complaints: Complaints, fix: str) -> None:
        self._complaints = complaints
        self._fix = fix
        self._places: list[tuple[int, object]] = []

    def add(self, frame: int, found: object) -> None:
        """Note a frame that doesn't fit."""
        self._places.append((frame, found))

    def tell(self) -> bool:
        """Complain of what was noted; whether there was anything."""
        for frame, found in self._places[: self.MOST_TOLD]:
            self._complaints.add(
                json_pointer("keypoints", frame),
                f"is {kind_of(found)}, which no frame of this format is",
                self._fix,
            )
        rest = len(self._places) - self.MOST_TOLD
        if rest > 0:
            self._complaints.add("/keypoints", f"has {rest} more such frames", self._fix)
        return bool(self._places)
