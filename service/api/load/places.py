"""The place that a request takes up inside, which it may lose while its body drips in."""

from __future__ import annotations

import math
import time
from typing import Final

from anyio import CancelScope
from starlette.datastructures import Headers
from starlette.types import Message, Receive, Scope, Send

IN_PEACE: Final[float] = 2.0
"""Seconds in which a body may come in as slowly as it likes, on a busy machine too."""

_LEFT: Final[Message] = {"type": "http.disconnect"}


class Place:
    """One request inside; what it reads and answers goes through here."""

    def __init__(self, scope: Scope, receive: Receive, send: Send) -> None:
        self._receive = receive
        self._send = send
        self._whole = not _brings_body(Headers(scope=scope))
        self._answered = False
        self._since: float | None = None
        self._came_in = 0
        self._waiting: CancelScope | None = None
        self.given_up = False
        """Whether somebody else has the place; whoever reads is told that the caller has left."""

    async def receive(self) -> Message:
        """The next part of the request."""
        if self.given_up:
            return _LEFT
        if self._since is None:
            self._since = time.monotonic()
        message = _LEFT
        with CancelScope() as self._waiting:
            message = await self._receive()
        self._waiting = None
        if message["type"] == "http.request":
            self._came_in += len(message.get("body", b""))
            self._whole = not message.get("more_body", False)
        return message

    async def send(self, message: Message) -> None:
        """A part of the answer, which goes nowhere once the place is given up."""
        if not self.given_up:
            self._answered = True
            await self._send(message)

    def pace(self) -> float:
        """Bytes a second in which the body comes in; infinite where nothing is waited for."""
        if self._whole or self._answered or self._waiting is None or self._since is None:
            return math.inf
        seconds = time.monotonic() - self._since
        return math.inf if seconds < IN_PEACE else self._came_in / seconds

    def give_up(self) -> bool:
        """Leave the place to another, if a body is all that is waited for."""
        if math.isinf(self.pace()) or self._waiting is None:
            return False
        self.given_up = True
        self._waiting.cancel()
        return True


def _brings_body(headers: Headers) -> bool:
    """Whether a body follows (RFC 9112, section 6.3)."""
    return headers.get("content-length", "0") != "0" or "transfer-encoding" in headers
