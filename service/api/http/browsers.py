"""Which pages may call the service from a browser."""

from __future__ import annotations

from typing import Final

from fastapi import FastAPI, Response
from starlette.datastructures import Headers
from starlette.middleware.cors import CORSMiddleware
from starlette.types import Receive, Scope, Send

from service.api.http.retries import IDEMPOTENCY_KEY
from service.api.problems.answers import MEDIA_TYPE
from service.api.problems.details import ProblemError, to_problem
from service.api.problems.kinds import PAGE_REFUSED
from service.api.problems.parameters import MAX_PATH
from service.settings import Settings

_METHODS: Final[tuple[str, ...]] = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE")
_SENT: Final[tuple[str, ...]] = (
    "Authorization",
    "Callback-Secret",
    "Content-Encoding",
    "Content-Type",
    IDEMPOTENCY_KEY,
    "If-Match",
    "If-None-Match",
    "X-Request-ID",
)
_SHOWN: Final[tuple[str, ...]] = (
    "Content-Disposition",
    "ETag",
    "Location",
    "RateLimit",
    "RateLimit-Policy",
    "Retry-After",
    "X-Request-ID",
)


class _Pages(CORSMiddleware):
    """Refuses a preflight with a problem like any other, in place of a line of plain text."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a preflight that is refused; all else is the library's."""
        told = self.preflight_response(Headers(scope=scope)) if _is_preflight(scope) else None
        if told is None or told.status_code < PAGE_REFUSED.status:
            await super().__call__(scope, receive, send)
            return
        answer = _refusal(bytes(told.body).decode(), str(scope["path"])[:MAX_PATH])
        for name in ("access-control-allow-origin", "vary"):
            if name in told.headers:
                answer.headers[name] = told.headers[name]
        await answer(scope, receive, send)


def _is_preflight(scope: Scope) -> bool:
    if scope["type"] != "http" or scope["method"] != "OPTIONS":
        return False
    headers = Headers(scope=scope)
    return "origin" in headers and "access-control-request-method" in headers


def _refusal(what: str, path: str) -> Response:
    """The problem; ``what`` is the library's line, ``Disallowed CORS origin, headers``."""
    names = what.removeprefix("Disallowed CORS ")
    detail = (
        f"Not let in: {names}. Origins are those in SWING_CORS_ORIGINS; methods are "
        f"{', '.join(_METHODS)}; headers are {', '.join(_SENT)} and what browsers always send."
    )
    problem = to_problem(ProblemError(PAGE_REFUSED, detail), path)
    return Response(problem.body(), problem.status, media_type=MEDIA_TYPE)


def let_pages_call(app: FastAPI, settings: Settings) -> None:
    """Let pages of the origins in the settings call.

    To be called after every other middleware was added, so that their refusals can be read too.
    """
    if settings.cors_origins:
        app.add_middleware(
            _Pages,
            allow_origins=settings.cors_origins,
            allow_methods=_METHODS,
            allow_headers=_SENT,
            expose_headers=_SHOWN,
        )
