"""How many requests are taken in at once; those beyond are told at once to come again."""

from __future__ import annotations

from collections import Counter
from typing import Final

from fastapi import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from service.api.http.problems import TOO_BUSY, ProblemError, answer_with_problem
from service.observing.metrics import Metrics

ALWAYS_TAKEN: Final[frozenset[str]] = frozenset({"/healthz", "/readyz", "/metrics"})
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
    metrics
        Told who comes, leaves and is turned away.
    """

    def __init__(self, app: ASGIApp, own_lane: str, most: int, metrics: Metrics) -> None:
        self._app = app
        self._own_lane = own_lane
        self._most = most
        self._metrics = metrics
        self._inside: Counter[str] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Take one request in, or turn it away."""
        if scope["type"] != "http" or scope["path"] in ALWAYS_TAKEN:
            await self._app(scope, receive, send)
            return
        lane = "analyse" if scope["path"] == self._own_lane else "records"
        if self._inside[lane] >= self._most:
            self._metrics.turned_away(lane)
            busy = ProblemError(TOO_BUSY, TOO_BUSY.meaning, _RETRY_AFTER)
            response = await answer_with_problem(Request(scope), busy)
            await response(scope, receive, send)
            return
        self._count(lane, 1)
        try:
            await self._app(scope, receive, send)
        finally:
            self._count(lane, -1)

    def _count(self, lane: str, change: int) -> None:
        self._inside[lane] += change
        self._metrics.inside(lane, change)
