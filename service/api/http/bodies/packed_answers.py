"""The contract and the documentation's files as gzip (RFC 9110, section 8.4) for who takes it.

All other answers go as they are: a swing's would take longer to pack than most networks take to
carry it, and those of batches are streamed.
"""

from __future__ import annotations

from typing import Final

from starlette.middleware.gzip import GZipMiddleware
from starlette.types import ASGIApp, Receive, Scope, Send

_CONTRACT: Final[str] = "/openapi.json"
_DOCS: Final[str] = "/docs/"
_LEVEL: Final[int] = 6
_SMALLEST: Final[int] = 1000
"""Bytes that go in one packet anyway."""


class PackedAnswers:
    """ASGI middleware: lets the library's pack these answers, and passes all others by it."""

    def __init__(self, app: ASGIApp) -> None:
        self._plain = app
        self._packing = GZipMiddleware(app, minimum_size=_SMALLEST, compresslevel=_LEVEL)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on."""
        path = scope.get("path", "")
        is_large = path == _CONTRACT or path.startswith(_DOCS)
        await (self._packing if is_large else self._plain)(scope, receive, send)
