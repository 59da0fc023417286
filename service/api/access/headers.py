"""What every answer tells a browser: take it for what it says, run nothing, keep nothing.

Sources: the Fetch standard (`X-Content-Type-Options`), Content Security Policy level 3, Referrer
Policy, and RFC 9111, section 5.2.2.5 (`no-store`).
"""

from __future__ import annotations

from typing import Final

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.access.scopes import PUBLIC

_DOCS: Final[tuple[str, ...]] = ("/docs",)
"""Where pages are that load their scripts."""

_PAGE: Final[str] = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_DOCS_PAGE: Final[str] = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_ALWAYS: Final[dict[str, str]] = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
}


class AnswerHeaders:
    """ASGI middleware: puts these headers on every answer, and those of the rate limit."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        state = scope.setdefault("state", {})

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in (*_ALWAYS.items(), *state.get("limit_headers", {}).items()):
                    headers[name] = value
                headers["Content-Security-Policy"] = _policy(scope["path"])
                if _of_somebody(scope):
                    headers["Cache-Control"] = "no-store"
            await send(message)

        await self._app(scope, receive, send_with_headers)


def _policy(path: str) -> str:
    return _DOCS_PAGE if path.startswith(_DOCS) else _PAGE


def _of_somebody(scope: Scope) -> bool:
    """Whether the answer may tell something of a player; what no route was found for does not."""
    route = scope.get("route")
    return route is not None and getattr(route, "path_format", None) not in PUBLIC
