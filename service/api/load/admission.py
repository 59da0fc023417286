"""How many requests are taken in at once; those beyond are told at once to come again."""

from __future__ import annotations

from collections import defaultdict
from typing import Final

from fastapi import Request
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Receive, Scope, Send

from service.api.load.places import Place
from service.api.problems.answers import answer_with_problem
from service.api.problems.details import ProblemError
from service.api.problems.kinds import TOO_BUSY
from service.observing.metrics import Metrics

ALWAYS_TAKEN: Final[frozenset[str]] = frozenset({"/healthz", "/readyz", "/metrics"})
"""Paths that are answered whatever else is going on."""

_RETRY_AFTER: Final[dict[str, str]] = {"Retry-After": "1"}


class Admission:
    """ASGI middleware: a bounded number of requests in each of two lanes.

    Analysing without keeping has a lane of its own, so that it goes on while requests about
    the records wait for a database. Where a lane is full, the request whose body comes in slowest
    makes way: bodies that drip would keep everybody out otherwise.

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
        self._inside: defaultdict[str, set[Place]] = defaultdict(set)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Take one request in, or turn it away."""
        if scope["type"] != "http" or scope["path"] in ALWAYS_TAKEN:
            await self._app(scope, receive, send)
            return
        lane = "analyse" if scope["path"] == self._own_lane else "records"
        if len(self._inside[lane]) >= self._most and not self._one_makes_way(lane):
            await self._turn_away(lane, scope, receive, send)
            return
        place = Place(scope, receive, send)
        self._inside[lane].add(place)
        self._metrics.inside(lane, 1)
        try:
            await self._app(scope, place.receive, place.send)
        except ClientDisconnect:
            if not place.given_up:
                raise
        finally:
            self._leave(lane, place)
        if place.given_up:
            await self._turn_away(lane, scope, receive, send)

    def _one_makes_way(self, lane: str) -> bool:
        slow = min(self._inside[lane], key=Place.pace)
        if not slow.give_up():
            return False
        self._leave(lane, slow)
        return True

    def _leave(self, lane: str, place: Place) -> None:
        if place in self._inside[lane]:
            self._inside[lane].remove(place)
            self._metrics.inside(lane, -1)

    async def _turn_away(self, lane: str, scope: Scope, receive: Receive, send: Send) -> None:
        self._metrics.turned_away(lane)
        busy = ProblemError(TOO_BUSY, TOO_BUSY.meaning, _RETRY_AFTER)
        response = await answer_with_problem(Request(scope), busy)
        await response(scope, receive, send)
