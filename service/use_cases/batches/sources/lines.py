"""Lines of requests cut into pieces of bounded size."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from service.intake.errors import TooLarge
from service.intake.many.errors import (
    MalformedGzip,
    MalformedTable,
    Unreadable,
    UnreadableFile,
    code_of,
)
from service.intake.many.files import within
from service.intake.many.reading import reference_in
from service.records.batches.entities import LINES_AN_ITEM

_BYTES_A_PIECE: Final[int] = 4 * 1024 * 1024
_STAND_IN: Final[bytes] = b"\0"
"""Begins a line that stands for one that can't be kept or read; JSON never begins so."""

_ERRORS: Final = {
    "body-too-large": TooLarge,
    "malformed-gzip": MalformedGzip,
    "malformed-parquet": MalformedTable,
    "unreadable-file": UnreadableFile,
}


@dataclass(frozen=True)
class Piece:
    """Lines that follow each other.

    Attributes
    ----------
    first
        Number of the first, from 1.
    inputs
        How many of them are not empty.
    body
        The lines, each with its newline.
    """

    first: int
    n_lines: int
    inputs: int
    body: bytes


def pieces(lines: Iterable[bytes | Unreadable], longest: int) -> Iterator[Piece]:
    """Lines in pieces; for one that is too long or can't be read something short stands in.

    No piece begins with an empty line, so that millions of them, which are soon packed into a small
    file, are none at all.

    Parameters
    ----------
    lines
        As :func:`service.intake.many.files.bounded_lines` or ``lines_of`` there gives them.
    longest
        Most bytes of a line.
    """
    gathered: list[bytes] = []
    size, first = 0, 1
    for number, line in enumerate(lines, start=1):
        if not gathered:
            if isinstance(line, bytes) and line.isspace():
                continue
            first = number
        gathered.append(_to_keep(line, longest))
        size += len(gathered[-1])
        if len(gathered) == LINES_AN_ITEM or size >= _BYTES_A_PIECE:
            yield _piece(first, gathered)
            gathered, size = [], 0
    if gathered:
        yield _piece(first, gathered)


def lines_in(body: bytes) -> list[bytes]:
    """The lines of a piece, without their newlines, empty ones too.

    >>> lines_in(b"a\\n\\nb\\rc\\n")
    [b'a', b'', b'b\\rc']
    """
    lines = body.split(b"\n")
    return lines if lines[-1] else lines[:-1]


def stood_for(line: bytes) -> Exception | None:
    """What was wrong with the line for which this one stands; ``None`` where it stands for none."""
    if not line.startswith(_STAND_IN):
        return None
    told = json.loads(line.removeprefix(_STAND_IN))
    return _ERRORS[told["problem"]](told["words"])


def _to_keep(line: bytes | Unreadable, longest: int) -> bytes:
    if isinstance(line, Unreadable):
        return _stand_in(code_of(line), line, None)
    try:
        within(line, longest)
    except TooLarge as error:
        return _stand_in("body-too-large", error, reference_in(line))
    # A line of ours begins with a brace; one that begins with our mark is no request.
    return line.replace(_STAND_IN, b"?") if _STAND_IN in line else line


def _stand_in(code: str, error: Exception, reference: str | None) -> bytes:
    told = {"problem": code, "words": str(error), "client_reference": reference}
    return _STAND_IN + json.dumps(told).encode() + b"\n"


def _piece(first: int, lines: list[bytes]) -> Piece:
    inputs = sum(bool(line.strip()) for line in lines)
    return Piece(first, len(lines), inputs, b"".join(lines))
