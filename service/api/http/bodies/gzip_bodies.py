"""Gzip unpacked in bounded time and memory, whatever was sent."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from io import BytesIO
from typing import IO, Final

from service.api.problems.details import ProblemError
from service.api.problems.kinds import BODY_TOO_LARGE, MALFORMED_GZIP, SMALLER

MOST_MEMBERS: Final[int] = 1000
"""Members taken of one body. Tools that write many write one for every 64 KiB or more."""

MOST_RATIO: Final[int] = 100
"""How many times its size a body may unpack to. Clips come to 3 to 10; what repeats itself
for longer than that holds no movement."""

ANY_RATIO: Final[int] = 1024 * 1024
"""Bytes up to which the ratio doesn't matter: so little does no harm."""

_GZIP_WINDOW: Final[int] = 31  # zlib's number for "gzip header and trailer, largest window"
_STEP: Final[int] = 64 * 1024
_PACK_AGAIN: Final[str] = "Pack it again, or send it as it is without Content-Encoding."


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
    return b"".join(unpacked(BytesIO(data), limit))


def unpacked(file: IO[bytes], limit: int) -> Iterator[bytes]:
    """The same from a file and in parts, so that neither is ever held whole.

    Raises
    ------
    ProblemError
        As :func:`gunzip`, once it comes to that.
    """
    source = _Counted(file)
    size = 0
    try:
        for part in _parts(source):
            size += len(part)
            if size > limit:
                raise _too_large(f"is larger than {limit} bytes once decompressed")
            if size > max(ANY_RATIO, MOST_RATIO * source.given):
                raise _too_large(f"unpacks to more than {MOST_RATIO} times its size")
            yield part
    except zlib.error:
        raise ProblemError(MALFORMED_GZIP, MALFORMED_GZIP.meaning) from None


class _Counted:
    """What a file gives in small steps, with how many bytes that were so far."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self.given = 0

    def step(self) -> bytes:
        part = self._file.read(_STEP)
        self.given += len(part)
        return part


def _parts(source: _Counted) -> Iterator[bytes]:
    """What comes out, at most :data:`_STEP` bytes at a time."""
    rest = source.step()
    for _ in range(MOST_MEMBERS):
        if not rest:
            return
        member = zlib.decompressobj(wbits=_GZIP_WINDOW)
        while not member.eof:
            rest = rest or source.step()
            if not rest:
                raise ProblemError(MALFORMED_GZIP, f"The gzip body is cut off. {_PACK_AGAIN}")
            yield member.decompress(rest, _STEP)
            rest = member.unconsumed_tail or member.unused_data
        rest = rest or source.step()
    if rest:
        raise ProblemError(
            MALFORMED_GZIP, f"The gzip body has more than {MOST_MEMBERS} members. {_PACK_AGAIN}"
        )


def _too_large(how: str) -> ProblemError:
    return ProblemError(BODY_TOO_LARGE, f"The body {how}. {SMALLER}")
