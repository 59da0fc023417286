"""The body of a new batch: lines put aside on disk, or the name of a folder."""

from __future__ import annotations

import hashlib
import io
from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import IO, Annotated, Final

from fastapi import Depends, Request

from service.api.http.bodies.body import NDJSON, receive_body, spool_lines
from service.api.http.bodies.gzip_bodies import unpacked
from service.api.http.dependencies import CurrentSettings
from service.api.problems.details import ProblemError
from service.api.problems.kinds import UNSUPPORTED_MEDIA_TYPE

_JSON: Final[str] = "application/json"
_BLOCK: Final[int] = 1 << 20


@dataclass(frozen=True)
class SentBatch:
    """What was sent: lines in a file, packed or not, or JSON text that names a folder."""

    file: IO[bytes] | None
    gzipped: bool
    text: bytes
    limit: int

    def digest(self) -> bytes:
        """Tells one body from another."""
        if self.file is None:
            return hashlib.sha256(self.text).digest()
        digest = hashlib.sha256()
        self.file.seek(0)
        while block := self.file.read(_BLOCK):
            digest.update(block)
        return digest.digest()

    def lines(self) -> IO[bytes] | None:
        """The lines from the first on, unpacked as they are read."""
        if self.file is None:
            return None
        self.file.seek(0)
        if not self.gzipped:
            return self.file
        return io.BufferedReader(_Unpacked(self.file, self.limit), _BLOCK)


class _Unpacked(io.RawIOBase):
    """A gzip file as it is once unpacked."""

    def __init__(self, file: IO[bytes], limit: int) -> None:
        self._parts = unpacked(file, limit)
        self._rest = b""

    def readable(self) -> bool:
        """It is."""
        return True

    def readinto(self, buffer: bytearray | memoryview) -> int:  # type: ignore[override]  # asked for these only
        """Fill a part of the buffer."""
        while not self._rest:
            part = next(self._parts, None)
            if part is None:
                return 0
            self._rest = part
        size = min(len(buffer), len(self._rest))
        buffer[:size], self._rest = self._rest[:size], self._rest[size:]
        return size


async def _sent(request: Request, settings: CurrentSettings) -> AsyncIterator[SentBatch]:
    media_type = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media_type == _JSON:
        body = await receive_body(request, settings.max_record_bytes)
        yield SentBatch(None, False, body.text(), settings.max_record_bytes)
        return
    if media_type != NDJSON:
        raise ProblemError(
            UNSUPPORTED_MEDIA_TYPE,
            f"Send lines of requests as Content-Type: {NDJSON}, or a folder as {_JSON}.",
        )
    limit = settings.max_batch_bytes
    file, gzipped = await spool_lines(request, limit, may_be_gzipped=True)
    with file:
        yield SentBatch(file, gzipped, b"", limit)


BatchBody = Annotated[SentBatch, Depends(_sent)]
