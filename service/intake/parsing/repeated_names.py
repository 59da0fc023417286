"""Where a JSON text has a name twice in one object, which RFC 8259 (section 4) advises against.

Libraries take the last value without a word, so that a slip would change the answer.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from itertools import islice
from typing import Any, Final

from service.intake.errors import MAX_ERRORS, FieldError, InvalidRequest, json_pointer

_FIX: Final[str] = "Send each name once in an object."


class _Object(dict[str, Any]):
    """An object of the text, and the names that it has twice."""

    repeated: tuple[str, ...] = ()


_LONG: Final[int] = 1024 * 1024
"""Bytes from which no pointers are looked for: meanwhile no other thread would run."""


def refused_repeats(text: bytes, found: str) -> InvalidRequest:
    """What to say of a JSON text that has names twice, with a pointer to each.

    Parameters
    ----------
    text
        JSON in UTF-8, which was read before.
    found
        What the library that reads it said of the first; told of a long text.
    """
    if len(text) > _LONG:
        problem = f"has a name more than once in one object: {found}"
        return InvalidRequest((FieldError("", problem, _FIX),))
    pointers = _pointers(json.loads(text, object_pairs_hook=_object))
    told = tuple(
        FieldError(pointer, "is sent more than once", _FIX)
        for pointer in islice(pointers, MAX_ERRORS)
    )
    return InvalidRequest(told, omitted=sum(1 for _ in pointers))


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = _Object(pairs)
    if len(found) < len(pairs):
        count = Counter(name for name, _ in pairs)
        found.repeated = tuple(name for name, times in count.items() if times > 1)
    return found


def _pointers(value: object, *place: str | int) -> Iterator[str]:
    if isinstance(value, _Object):
        yield from (json_pointer(*place, name) for name in value.repeated)
        for name, held in value.items():
            yield from _pointers(held, *place, name)
    elif isinstance(value, list):
        for index, held in enumerate(value):
            yield from _pointers(held, *place, index)
