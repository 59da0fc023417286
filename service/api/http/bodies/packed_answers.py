"""The contract and the documentation's files as gzip (RFC 9110, section 8.4) for who takes it.

They are large, the same for everybody, and packed once. All other answers go as they are: a swing's
would take longer to pack than most networks take to carry it, and those of batches are streamed.
"""

from __future__ import annotations

import gzip
from typing import Final

from anyio import to_thread
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

_CONTRACT: Final[str] = "/openapi.json"
_DOCS: Final[str] = "/docs/"
_LEVEL: Final[int] = 6
_SMALLEST: Final[int] = 1000
"""Bytes that go in one packet anyway."""


class PackedAnswers:
    """ASGI middleware: packs these answers, each as often as it is another than the last time."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._packed: dict[str, tuple[bytes, bytes]] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on, and pack its answer where it is one of these."""
        path = scope.get("path", "")
        if scope["type"] != "http" or not (path == _CONTRACT or path.startswith(_DOCS)):
            await self._app(scope, receive, send)
            return
        accepted = _takes_gzip(Headers(scope=scope).get("accept-encoding", ""))
        head: Message = {}
        body = bytearray()

        async def send_packed(message: Message) -> None:
            if message["type"] == "http.response.start":
                head.update(message)
                return
            body.extend(message.get("body", b""))
            if message.get("more_body", False):
                return
            headers = MutableHeaders(raw=list(head["headers"]))
            headers.add_vary_header("Accept-Encoding")
            content = bytes(body)
            if accepted and head["status"] == 200 and len(content) >= _SMALLEST:
                content = await self._pack(path, content)
                headers["Content-Encoding"] = "gzip"
                headers["Content-Length"] = str(len(content))
            await send({**head, "headers": headers.raw})
            await send({"type": "http.response.body", "body": content})

        await self._app(scope, receive, send_packed)

    async def _pack(self, path: str, content: bytes) -> bytes:
        plain, packed = self._packed.get(path, (b"", b""))
        if plain != content:
            packed = await to_thread.run_sync(lambda: gzip.compress(content, _LEVEL, mtime=0))
            self._packed[path] = content, packed
        return packed


def _takes_gzip(accepted: str) -> bool:
    """Whether an ``Accept-Encoding`` (RFC 9110, section 12.5.3) lets gzip through.

    >>> _takes_gzip("br, gzip;q=0.5"), _takes_gzip("*"), _takes_gzip("gzip;q=0, *"), _takes_gzip("")
    (True, True, False, False)
    """
    weights = {}
    for each in accepted.lower().split(","):
        coding, _, weight = (part.strip() for part in each.partition(";"))
        weights[coding] = weight.replace(" ", "").rstrip("0.") != "q="
    return weights.get("gzip", weights.get("*", False))
