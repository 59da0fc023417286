"""HEAD wherever there is a GET (RFC 9110, section 9.3.2): the same answer without its body."""

from __future__ import annotations

from starlette.types import ASGIApp, Message, Receive, Scope, Send


class Heads:
    """ASGI middleware: asks the routes for a GET and answers with the head alone.

    The answer ends with its head: one that goes on for long then sees that nobody listens.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self._app(scope, receive, send)
            return

        async def send_head(message: Message) -> None:
            if message["type"] == "http.response.start":
                await send(message)
                await send({"type": "http.response.body", "body": b""})

        scope["method"] = "GET"
        try:
            await self._app(scope, receive, send_head)
        finally:
            scope["method"] = "HEAD"
