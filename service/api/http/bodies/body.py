"""The request body as it comes in, never more of it in memory than the limit allows."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from dataclasses import dataclass
from tempfile import SpooledTemporaryFile
from typing import IO, Final

from anyio import to_thread
from fastapi import Request

from service.api.http.bodies.gzip_bodies import gunzip
from service.api.problems.details import ProblemError
from service.api.problems.kinds import (
    BODY_TOO_LARGE,
    NO_SPACE,
    SMALLER,
    UNSUPPORTED_ENCODING,
    UNSUPPORTED_MEDIA_TYPE,
)

NDJSON: Final[str] = "application/x-ndjson"
"""Lines, each a JSON text (ndjson.org)."""
_LONGEST_TYPE: Final[int] = 100
_NO_FILMS: Final[str] = (
    " Of a film send what a pose estimator found; `python -m service analyse FILM` writes that "
    "beside the film."
)

_IN_MEMORY: Final[int] = 4 * 1024 * 1024
_DRAINED_BODIES: Final[int] = 4


_log = logging.getLogger(__name__)


class _TooLarge(Exception):
    """The body passes the limit."""


@dataclass(frozen=True)
class SentBody:
    """The body of a JSON request, as it came in.

    Attributes
    ----------
    sent
        The bytes, packed or not.
    gzipped
        Whether they are packed.
    limit
        Most bytes they may unpack to.
    """

    sent: bytes
    gzipped: bool
    limit: int

    def text(self) -> bytes:
        """The JSON text; unpacking may take long, so that this is for worker threads.

        Raises
        ------
        ProblemError
            As :func:`service.api.http.bodies.gzip_bodies.gunzip` does.
        """
        return gunzip(self.sent, self.limit) if self.gzipped else self.sent


async def receive_body(request: Request, limit: int) -> SentBody:
    """The body of a JSON request; nothing is done here but to read what comes in.

    Raises
    ------
    ProblemError
        When the body isn't JSON by its content type, is encoded otherwise than with gzip
        (RFC 9110, section 8.4), or passes ``limit`` bytes as sent.
    """
    _check_content_type(request, "application/json")
    gzipped = _is_gzipped(request)
    chunks = request.stream()
    try:
        sent = await _read(chunks, limit)
    except _TooLarge:
        await _drain(chunks, _DRAINED_BODIES * limit)
        raise _too_large(limit) from None
    return SentBody(sent, gzipped, limit)


async def spool_lines(
    request: Request, limit: int, *, may_be_gzipped: bool = False
) -> tuple[IO[bytes], bool]:
    """The body of a request of many lines, put aside on disk as it was sent; the caller closes it.

    Returns
    -------
    the file, and whether it is gzipped.

    Raises
    ------
    ProblemError
        When the body isn't lines of JSON by its content type, is encoded in a way that isn't
        taken, passes ``limit`` bytes, or when there is no room on disk to put it aside.
    """
    _check_content_type(request, NDJSON)
    gzipped = _is_gzipped(request)
    if gzipped and not may_be_gzipped:
        raise ProblemError(UNSUPPORTED_ENCODING, "Send lines of JSON as they are.")
    file = SpooledTemporaryFile(max_size=_IN_MEMORY)  # noqa: SIM115 - closed by the caller
    try:
        await _spool(request.stream(), file, limit)
    except BaseException:
        file.close()
        raise
    return file, gzipped


async def _spool(chunks: AsyncIterator[bytes], file: IO[bytes], limit: int) -> None:
    async for chunk in chunks:
        try:
            await to_thread.run_sync(file.write, chunk)
        except OSError as error:
            _log.error("a batch could not be put aside: %s", error)
            await _drain(chunks, limit)
            raise ProblemError(NO_SPACE, NO_SPACE.meaning) from None
        if file.tell() > limit:
            await _drain(chunks, limit)
            raise _too_large(limit)
    file.seek(0)


def _check_content_type(request: Request, wanted: str) -> None:
    media_type = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media_type != wanted:
        came = f", not {media_type[:_LONGEST_TYPE]}" if media_type else ""
        film = _NO_FILMS if media_type.startswith("video/") else ""
        detail = f"Send the body as Content-Type: {wanted}{came}.{film}"
        raise ProblemError(UNSUPPORTED_MEDIA_TYPE, detail)


def _is_gzipped(request: Request) -> bool:
    encoding = request.headers.get("content-encoding", "identity").strip().lower()
    if encoding not in ("identity", "gzip", "x-gzip"):
        raise ProblemError(
            UNSUPPORTED_ENCODING, UNSUPPORTED_ENCODING.meaning, {"Accept-Encoding": "gzip"}
        )
    return encoding != "identity"


async def _read(chunks: AsyncIterator[bytes], limit: int) -> bytes:
    body = bytearray()
    async for chunk in chunks:
        body += chunk
        if len(body) > limit:
            raise _TooLarge
    return bytes(body)


async def _drain(chunks: AsyncIterator[bytes], at_most: int) -> None:
    """Read on and forget: a caller cut off while still sending often misses the answer."""
    async for chunk in chunks:
        at_most -= len(chunk)
        if at_most < 0:
            return


def _too_large(limit: int) -> ProblemError:
    return ProblemError(BODY_TOO_LARGE, f"The body is larger than {limit} bytes. {SMALLER}")
