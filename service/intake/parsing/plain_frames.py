"""Frames of plain points read from JSON text straight into an array.

A clip's points are thousands of short lists that are made only to be taken apart again. Where a
text has what nearly all have, whole points of whole frames, its brackets stand where the first
frame says, and its numbers are read as one list. Of any other text nothing is said here: it is
read as every JSON text is, and refused there.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterator
from typing import Any, Final

import numpy as np
from jiter import from_json

from service.analysis.types import FloatArray
from service.intake.keypoints import AXES, all_finite
from service.intake.parsing.json_reader import read_raw, refuse_crowds

_LIST: Final[str] = "keypoints"
_BEGIN: Final = re.compile(rb'"keypoints"[ \t\r\n]*:[ \t\r\n]*(?=\[)')
_END: Final = re.compile(rb"\][ \t\r\n]*\][ \t\r\n]*\]")
_COMPACT_END: Final[bytes] = b"]]]"
_OF_NUMBERS: Final[bytes] = b"0123456789+-.eE \t\r\n"
"""What is left out to see how lists stand in one another."""
_POINTS: Final[dict[bytes, int]] = {b"[,]": 2, b"[,,]": AXES}
"""A point without its numbers, and how many it has."""
_AS_SPACES: Final[bytes] = bytes.maketrans(b"[]", b"  ")
"""Brackets must not join the numbers about them, which nothing but a comma may stand between."""
_PIECE: Final[int] = 512 * 1024
"""Bytes read in one go: meanwhile no other thread runs."""
_STAND_IN: Final[str] = secrets.token_hex(16)
"""In place of the frames while the rest is read; nobody can have sent it."""


def read_swing(body: bytes) -> object:
    """What the JSON text of a request holds.

    Returns
    -------
    As :func:`service.intake.parsing.json_reader.read_raw`; but ``keypoints`` is an array of shape
    (n_frames, n_columns, 3), confidence NaN where none was sent, if each of its frames holds as
    many points and each of these as many numbers.

    Raises
    ------
    TooLarge, MalformedJson, InvalidRequest
        As there.
    """
    span = _span(body)
    if span is not None:
        try:
            return _with_array(body, *span)
        except (ValueError, OverflowError):
            pass  # the whole text says better what is wrong with it
    return read_raw(body)


def as_lists(keypoints: FloatArray) -> list[Any]:
    """The same frames as JSON has them."""
    unsure = np.isnan(keypoints[..., 2]).all()
    lists: list[Any] = (keypoints[..., :2] if unsure else keypoints).tolist()
    return lists


def _span(body: bytes) -> tuple[int, int] | None:
    """Where the frames begin and end, if they are what they look like."""
    begin = _BEGIN.search(body)
    if begin is None:
        return None
    start = begin.end()
    end = body.rfind(_COMPACT_END, start)  # nothing else in a request lies as deep
    if end >= 0:
        return start, end + len(_COMPACT_END)
    spaced = _END.search(body, start)
    return None if spaced is None else (start, spaced.end())


def _with_array(body: bytes, start: int, end: int) -> object:
    """Read the frames and, with one value standing in for them, the rest.

    Wherever the text was cut: where the frames are JSON, and the rest with the stand-in is an
    object that has it as its keypoints, the text as a whole is JSON and holds just that.

    Raises
    ------
    ValueError, OverflowError
        When it does not, or the frames have another shape.
    """
    refuse_crowds(body)
    text = body[start:end]
    shape = _shape(text.translate(None, _OF_NUMBERS))
    whole = read_raw(body[:start] + b'"' + _STAND_IN.encode() + b'"' + body[end:])
    if not isinstance(whole, dict) or whole.get(_LIST) != _STAND_IN:
        raise ValueError("these are no keypoints")
    table = np.concatenate([_numbers(piece) for piece in _pieces(text.translate(_AS_SPACES))])
    points = table.reshape(shape)
    if shape[2] < AXES:
        points = np.pad(points, ((0, 0), (0, 0), (0, AXES - shape[2])), constant_values=np.nan)
    whole[_LIST] = points
    return whole


def _shape(brackets: bytes) -> tuple[int, int, int]:
    """Frames, points a frame and numbers a point, by the brackets and commas alone.

    Raises
    ------
    ValueError
        When not all frames are alike.

    >>> _shape(b"[[[,,],[,,]],[[,,],[,,]],[[,,],[,,]]]")
    (3, 2, 3)
    """
    frame = brackets[1 : brackets.find(b"]]") + 2]
    point = frame[1 : frame.find(b"]") + 1]
    n_points = (len(frame) - 1) // (len(point) + 1)
    n_frames = (len(brackets) - 1) // (len(frame) + 1)
    alike = brackets == _list_of(frame, n_frames) and frame == _list_of(point, n_points)
    if not alike or point not in _POINTS:
        raise ValueError("the frames are not alike")
    return n_frames, n_points, _POINTS[point]


def _list_of(item: bytes, times: int) -> bytes:
    return b"[" + b",".join([item] * times) + b"]"


def _pieces(numbers: bytes) -> Iterator[bytes]:
    """The text of numbers with commas between, cut at commas."""
    place = 0
    while (comma := numbers.find(b",", place + _PIECE)) >= 0:
        yield numbers[place:comma]
        place = comma + 1
    yield numbers[place:]


def _numbers(text: bytes) -> FloatArray:
    """Numbers with commas between them.

    Raises
    ------
    ValueError, OverflowError
        When the text is something else, or one is not finite.
    """
    numbers = all_finite(from_json(b"[" + text + b"]"))
    if numbers is None:
        raise ValueError("not all are finite numbers")
    return numbers
