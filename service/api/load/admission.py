"""How many requests are taken in at once; those beyond are told at once to come again."""

from __future__ import annotations

from collections import Counter
from typing import Final

from fastapi import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from service.api.http.problems import TOO_BUSY, ProblemError, answer_with_problem

ALWAYS_TAKEN: Final[frozenset[str]] = frozenset({"/healthz", "/readyz"})
"""Paths that are answered whatever else is going on."""

_RETRY_AFTER: Final[dict[str, str]] = {"Retry-After": "1"}


class Admission:
    """ASGI middleware: a bounded number of requests in each of two lanes.

    Analysing without keeping has a lane of its own, so that it goes on while requests about
    the records wait for a database.

    Parameters
    ----------
    own_lane
        Path of the requests that have a lane of their own.
    most
        Requests taken in at once in each lane.
    """

    def __init__(self, app: ASGIApp, own_lane: str, most: int) -> None:
        self._app = app
        self._own_lane = own_lane
        self._most = most
        self._inside: Counter[bool] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Take one request in, or turn it away."""
        if scope["type"] != "http" or scope["path"] in ALWAYS_TAKEN:
            await self._app(scope, receive, send)
            return
        lane = scope["path"] == self._own_lane
        if self._inside[lane] >= self._most:
            busy = ProblemError(TOO_BUSY, TOO_BUSY.meaning, _RETRY_AFTER)
            response = await answer_with_problem(Request(scope), busy)
            await response(scope, receive, send)
            return
        self._inside[lane] += 1
        try:
            await self._app(scope, receive, send)
        finally:
            self._inside[lane] -= 1
