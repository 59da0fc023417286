"""Names under which the service may be called.

A page of a stranger's can have its own name lead to a loopback address and then ask the service
there, in the browser of whoever opens it (DNS rebinding); the `Host` header gives it away. The
framework's middleware for this answers in plain text, so that this one is our own.
"""

from __future__ import annotations

from typing import Final

from fastapi import Request
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from service.api.load.admission import ALWAYS_TAKEN
from service.api.problems.answers import answer_with_problem
from service.api.problems.details import ProblemError
from service.api.problems.kinds import UNKNOWN_HOST
from service.settings import Settings, on_loopback

_OWN_NAMES: Final[tuple[str, ...]] = ("localhost", "127.0.0.1", "::1")


def allowed_names(settings: Settings) -> tuple[str, ...]:
    """The names that may be used; none where any may."""
    told = tuple(name.lower() for name in settings.allowed_hosts)
    if told or not on_loopback(settings.host):
        return told
    return (*_OWN_NAMES, settings.host)


class AllowedHosts:
    """ASGI middleware: turns away what is meant for another host (RFC 9110, section 15.5.20).

    Parameters
    ----------
    names
        Names that may be used, ``*.name`` for those below it; any where there are none.
    """

    def __init__(self, app: ASGIApp, names: tuple[str, ...]) -> None:
        self._app = app
        self._names = frozenset(names)
        self._below = tuple(name[1:] for name in names if name.startswith("*."))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on, or turn it away."""
        if scope["type"] != "http" or scope["path"] in ALWAYS_TAKEN or self._may(scope):
            await self._app(scope, receive, send)
            return
        problem = ProblemError(UNKNOWN_HOST, UNKNOWN_HOST.meaning)
        response = await answer_with_problem(Request(scope), problem)
        await response(scope, receive, send)

    def _may(self, scope: Scope) -> bool:
        name = _without_port(Headers(scope=scope).get("host", "").lower())
        return not self._names or name in self._names or name.endswith(self._below)


def _without_port(host: str) -> str:
    """The name in a `Host` header.

    >>> _without_port("localhost:8000"), _without_port("[::1]:8000"), _without_port("::1")
    ('localhost', '::1', '::1')
    """
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host if host.count(":") > 1 else host.partition(":")[0]
