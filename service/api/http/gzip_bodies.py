"""Gzip unpacked in bounded time and memory, whatever was sent."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from typing import Final

from service.api.http.problems import BODY_TOO_LARGE, MALFORMED_GZIP, ProblemError

MOST_MEMBERS: Final[int] = 1000
"""Members taken of one body. Tools that write many write one for every 64 KiB or more."""

MOST_RATIO: Final[int] = 100
"""How many times its size a body may unpack to. Clips come to 3 to 10; what repeats itself
for longer than that holds no movement."""

ANY_RATIO: Final[int] = 1024 * 1024
"""Bytes up to which the ratio doesn't matter: so little does no harm."""

_GZIP_WINDOW: Final[int] = 31  # zlib's number for "gzip header and trailer, largest window"
_STEP: Final[int] = 64 * 1024


def gunzip(data: bytes, limit: int) -> bytes:
    """Decompress gzip data of one or more members (RFC 1952).

    Time grows with the sizes of what comes in and out only: data is handed over in small
    steps, since what is left after a member or a step is copied.

    Raises
    ------
    ProblemError
        When the data is no gzip or is cut off, has more than :data:`MOST_MEMBERS` members,
        or when more than ``limit`` bytes, or more than :data:`MOST_RATIO` times the size of
        ``data``, come out.
    """
    ratio_limit = max(ANY_RATIO, MOST_RATIO * len(data))
    out = bytearray()
    try:
        for part in _parts(data):
            out += part
            if len(out) > limit:
                raise _too_large(f"is larger than {limit} bytes once decompressed")
            if len(out) > ratio_limit:
                raise _too_large(f"unpacks to more than {MOST_RATIO} times its size")
    except zlib.error:
        raise ProblemError(MALFORMED_GZIP, MALFORMED_GZIP.meaning) from None
    return bytes(out)


def _parts(data: bytes) -> Iterator[bytes]:
    """What comes out, at most :data:`_STEP` bytes at a time."""
    given, rest = 0, b""
    for _ in range(MOST_MEMBERS):
        if not rest and given >= len(data):
            return
        member = zlib.decompressobj(wbits=_GZIP_WINDOW)
        while not member.eof:
            if not rest:
                rest, given = data[given : given + _STEP], given + _STEP
                if not rest:
                    raise ProblemError(MALFORMED_GZIP, "The gzip body is cut off.")
            yield member.decompress(rest, _STEP)
            rest = member.unconsumed_tail or member.unused_data
    if rest or given < len(data):
        raise ProblemError(MALFORMED_GZIP, f"The gzip body has more than {MOST_MEMBERS} members.")


def _too_large(how: str) -> ProblemError:
    return ProblemError(BODY_TOO_LARGE, f"The body {how}. {BODY_TOO_LARGE.meaning}")
