"""Lines of requests cut into pieces of bounded size."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO, Final

from service.intake.errors import TooLarge
from service.intake.request import MAX_REFERENCE
from service.records.batches.entities import LINES_AN_ITEM

MOST_LINES: Final[int] = 1_000_000
"""Lines of one body, empty ones too: each takes some time, even if it holds nothing."""

_BYTES_A_PIECE: Final[int] = 4 * 1024 * 1024
_TOO_LONG: Final[bytes] = b"\0"
"""Stands before the reference of a line that is too long to be kept; JSON never begins so."""

_REFERENCE: Final = re.compile(rb'"client_reference"\s*:\s*("(?:[^"\\]|\\.)*")')


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


def pieces(file: IO[bytes], longest: int, first: int = 1) -> Iterator[Piece]:
    """The lines of a file in pieces; of a line that is too long only the reference is kept.

    Parameters
    ----------
    longest
        Most bytes of a line.
    first
        Number of the line at which the file stands.

    Raises
    ------
    TooLarge
        When there are more than :data:`MOST_LINES` lines.
    """
    gathered: list[bytes] = []
    size = 0
    for number, line in enumerate(_lines(file, longest), start=first):
        if number > MOST_LINES:
            raise TooLarge(f"There are more than {MOST_LINES} lines. Send the rest in another.")
        gathered.append(line)
        size += len(line)
        if len(gathered) == LINES_AN_ITEM or size >= _BYTES_A_PIECE:
            yield _piece(number - len(gathered) + 1, gathered)
            first, gathered, size = number + 1, [], 0
    if gathered:
        yield _piece(first, gathered)


def lines_of(body: bytes) -> list[bytes]:
    """The lines of a piece, without their newlines, empty ones too.

    >>> lines_of(b"a\\n\\nb\\rc\\n")
    [b'a', b'', b'b\\rc']
    """
    lines = body.split(b"\n")
    return lines if lines[-1] else lines[:-1]


def is_too_long(line: bytes) -> bool:
    """Whether a line stands for one that was too long to be kept."""
    return line.startswith(_TOO_LONG)


def reference_in(text: bytes) -> str | None:
    """The caller's reference in a request that may be broken; ``None`` where none can be told.

    >>> reference_in(b'{"client_reference": "a 7", "fps": 60, "keypoints": [[')
    'a 7'
    """
    found = _REFERENCE.search(text)
    try:
        reference = json.loads(found[1]) if found else None
    except ValueError:
        return None
    return reference if reference is not None and len(reference) <= MAX_REFERENCE else None


def _piece(first: int, lines: list[bytes]) -> Piece:
    inputs = sum(bool(line.strip()) for line in lines)
    return Piece(first, len(lines), inputs, b"".join(lines))


def _lines(file: IO[bytes], longest: int) -> Iterator[bytes]:
    while line := file.readline(longest + 1):
        if len(line) <= longest or line.endswith(b"\n"):
            # A line of ours begins with a brace; one that begins with our mark is no request.
            yield line.replace(_TOO_LONG, b"?") if _TOO_LONG in line else line
            continue
        reference = reference_in(line)
        while rest := file.readline(longest):
            if rest.endswith(b"\n"):
                break
        yield _TOO_LONG + json.dumps({"client_reference": reference}).encode() + b"\n"
