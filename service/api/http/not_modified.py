"""If-None-Match (RFC 9110, section 13.1.2): what a caller has already is not sent again."""

from __future__ import annotations

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

_OF_CONTENT = ("content-length", "content-type")


class NotModified:
    """Answers a GET with 304 where the answer has an ETag that the caller named."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, and send only the head of an answer that is known."""
        known = _known(scope)
        if known is None:
            await self._app(scope, receive, send)
            return
        held_back = False

        async def send_unless_known(message: Message) -> None:
            nonlocal held_back
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                etag = headers.get("etag")
                held_back = message["status"] == 200 and etag is not None and _names(known, etag)
                if held_back:
                    message = {**message, "status": 304}
                    for name in _OF_CONTENT:
                        del headers[name]
                    message["headers"] = headers.raw
            elif held_back:
                message = {**message, "body": b""}
            await send(message)

        await self._app(scope, receive, send_unless_known)


def _known(scope: Scope) -> str | None:
    if scope["type"] != "http" or scope["method"] not in ("GET", "HEAD"):
        return None
    return Headers(scope=scope).get("if-none-match")


def _names(known: str, etag: str) -> bool:
    """Whether a list of tags has one, weak or not; ``*`` stands for any."""
    tags = [each.strip().removeprefix("W/") for each in known.split(",")]
    return etag in tags or tags == ["*"]
