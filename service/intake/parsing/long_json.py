"""JSON text of a long clip read piece by piece.

The library reads a text in one go and lets no other thread run meanwhile, which for the
longest clips would hold up everything else the process does. A clip's frames stand in one
long list, so that list is read in pieces, and other threads get their turn between them.
"""

from __future__ import annotations

import gc
import re
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from typing import Any, Final

from jiter import from_json

from service.intake.parsing.repeated_names import refused_repeats

_LONG: Final[int] = 512 * 1024
"""Bytes from which a text is read in pieces, and the size of a piece."""

_LIST: Final[str] = "keypoints"
_STAND_IN: Final[str] = "the frames between"
_BETWEEN_FRAMES: Final = re.compile(rb"\]\s{0,20},\s{0,20}(?=\[\s{0,20}\[)")


def read_json(body: bytes) -> object:
    """What a JSON text holds; NaN and Infinity are read too.

    Raises
    ------
    InvalidRequest
        When an object has a name twice.
    ValueError
        When the text is not JSON.
    """
    if len(body) > 2 * _LONG:
        try:
            return _in_pieces(body)
        except ValueError:
            pass  # the whole text says better what is wrong with it
    try:
        return _read(body)
    except ValueError as error:
        from_json(body)  # what is no JSON is told before what it repeats
        raise refused_repeats(body, str(error)) from None


def _read(text: bytes) -> Any:
    """What a text holds; raises ``ValueError`` where it is no JSON or has a name twice."""
    return from_json(text, catch_duplicate_keys=True)


def _in_pieces(body: bytes) -> object:
    """Read the frames in pieces and the rest with one value standing in for them.

    Wherever the text is cut: when a piece in brackets is JSON and so is the rest with the
    stand-in, the text as a whole is JSON too and holds just that. Raises ``ValueError``
    otherwise.
    """
    cuts = list(_cuts(body))
    if len(cuts) < 2:
        raise ValueError("no frames to cut between")
    first, last = cuts[0][1], cuts[-1][1]
    frames: list[object] = []
    for (_, start), (end, _) in pairwise(cuts):
        frames += _read(b"[" + body[start:end] + b"]")
    rest = body[:first] + b'"' + _STAND_IN.encode() + b'",' + body[last:]
    whole = _read(rest)
    held = whole.get(_LIST) if isinstance(whole, dict) else None
    if not isinstance(held, list) or held.count(_STAND_IN) != 1:
        raise ValueError("the pieces are no frames")
    place = held.index(_STAND_IN)
    held[place : place + 1] = frames
    return whole


def _cuts(body: bytes) -> Iterator[tuple[int, int]]:
    """Where one frame ends and where the next begins, about a piece apart."""
    place = 0
    while match := _BETWEEN_FRAMES.search(body, place):
        yield match.start() + 1, match.end()
        place = match.end() + _LONG


@contextmanager
def collector_at_rest() -> Iterator[None]:
    """Keep the interpreter from looking for cycles meanwhile.

    Lists of numbers hold none; looking for some among a million of them takes long, and no
    other thread runs meanwhile.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
