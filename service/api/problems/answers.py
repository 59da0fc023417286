"""The answer that a problem is."""

from __future__ import annotations

import logging
import re
from collections.abc import Sequence
from typing import Final

from fastapi import Request, Response
from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute, Match
from starlette.types import Scope

from service.api.problems.details import ProblemError, to_problem
from service.api.problems.kinds import COME_AGAIN, METHOD_NOT_ALLOWED
from service.api.problems.parameters import MAX_PATH
from service.records.errors import ForeignDatabase, RecordsUnavailable

MEDIA_TYPE: Final[str] = "application/problem+json"
_METHODS: Final[tuple[str, ...]] = ("GET", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")

_SWINGS: Final = re.compile(r"/v1/lessons/([0-9a-f-]+)/swings")

_log = logging.getLogger(__name__)


def allowed_methods(routes: Sequence[BaseRoute], scope: Scope) -> list[str]:
    """Every method that a path takes (RFC 9110, section 10.2.1): one path may have many routes."""
    taken = [
        method
        for method in _METHODS
        if any(route.matches({**scope, "method": method})[0] is Match.FULL for route in routes)
    ]
    return ["GET", "HEAD", *taken[1:]] if taken[:1] == ["GET"] else taken


async def answer_with_problem(request: Request, error: Exception) -> Response:
    """Exception handler that answers with problem details."""
    if isinstance(error, RecordsUnavailable):
        _log.error("the database failed: %s", error)
    problem = to_problem(error, request.url.path[:MAX_PATH])
    headers = error.headers if isinstance(error, ProblemError | HTTPException) else None
    if isinstance(error, RecordsUnavailable | ForeignDatabase):
        headers = COME_AGAIN
    if problem.status == METHOD_NOT_ALLOWED.status:
        allowed = ", ".join(allowed_methods(request.app.routes, request.scope))
        headers = {"Allow": allowed}
        problem.detail = f"It takes {allowed}.{_listed_elsewhere(request)}"
    return Response(problem.body(), problem.status, headers, MEDIA_TYPE)


def _listed_elsewhere(request: Request) -> str:
    """Where the swings of a lesson are listed, for who asks for them below the lesson."""
    found = _SWINGS.fullmatch(request.url.path)
    return f" GET /v1/swings?lesson_id={found[1]} lists them." if found else ""
