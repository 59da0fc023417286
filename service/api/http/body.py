"""The request body, never more of it in memory than the limit allows."""

from __future__ import annotations

import zlib
from collections.abc import AsyncIterator
from tempfile import SpooledTemporaryFile
from typing import IO, Final

from anyio import to_thread
from fastapi import Request

from service.api.http.problems import (
    BODY_TOO_LARGE,
    MALFORMED_GZIP,
    UNSUPPORTED_ENCODING,
    UNSUPPORTED_MEDIA_TYPE,
    ProblemError,
)

NDJSON: Final[str] = "application/x-ndjson"
"""Lines, each a JSON text (ndjson.org)."""

_IN_MEMORY: Final[int] = 4 * 1024 * 1024
_DRAINED_BODIES: Final[int] = 4
_GZIP_WINDOW: Final[int] = 31  # zlib's number for "gzip header and trailer, largest window"
_STEP: Final[int] = 64 * 1024


class _TooLarge(Exception):
    """The body passes the limit."""


async def read_body(request: Request, limit: int) -> bytes:
    """The body of a JSON request, decompressed.

    Raises
    ------
    ProblemError
        When the body isn't JSON by its content type, is encoded otherwise than with gzip
        (RFC 9110, section 8.4), isn't the gzip it says it is, or passes ``limit`` bytes,
        as sent or as decompressed.
    """
    _check_content_type(request, "application/json")
    gzipped = _is_gzipped(request)
    chunks = request.stream()
    try:
        body = await _read(chunks, limit)
    except _TooLarge:
        await _drain(chunks, _DRAINED_BODIES * limit)
        raise _too_large(limit, "") from None
    return gunzip(body, limit) if gzipped else body


def gunzip(data: bytes, limit: int) -> bytes:
    """Decompress gzip data of one or more members (RFC 1952), stopping at ``limit`` bytes.

    Raises
    ------
    ProblemError
        When the data is no gzip or is cut off, or when more than ``limit`` bytes come out.
    """
    out = bytearray()
    try:
        while data:
            member = zlib.decompressobj(wbits=_GZIP_WINDOW)
            while not member.eof:
                out += member.decompress(data, _STEP)
                if len(out) > limit:
                    raise _too_large(limit, " once decompressed")
                data = member.unconsumed_tail or member.unused_data
                if not data and not member.eof:
                    raise ProblemError(MALFORMED_GZIP, "The gzip body is cut off.")
    except zlib.error:
        raise ProblemError(MALFORMED_GZIP, MALFORMED_GZIP.meaning) from None
    return bytes(out)


async def spool_lines(request: Request, limit: int) -> IO[bytes]:
    """The body of a request of many lines, put aside on disk; the caller closes it.

    Raises
    ------
    ProblemError
        When the body isn't lines of JSON by its content type, is encoded, or passes
        ``limit`` bytes.
    """
    _check_content_type(request, NDJSON)
    if _is_gzipped(request):
        raise ProblemError(UNSUPPORTED_ENCODING, "Send lines of JSON as they are.")
    file = SpooledTemporaryFile(max_size=_IN_MEMORY)  # noqa: SIM115 - closed by the caller
    chunks = request.stream()
    async for chunk in chunks:
        await to_thread.run_sync(file.write, chunk)
        if file.tell() > limit:
            file.close()
            await _drain(chunks, limit)
            raise _too_large(limit, "")
    file.seek(0)
    return file


def _check_content_type(request: Request, wanted: str) -> None:
    media_type = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media_type != wanted:
        raise ProblemError(UNSUPPORTED_MEDIA_TYPE, f"Send the body as Content-Type: {wanted}.")


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


def _too_large(limit: int, when: str) -> ProblemError:
    return ProblemError(
        BODY_TOO_LARGE, f"The body is larger than {limit} bytes{when}. {BODY_TOO_LARGE.meaning}"
    )
