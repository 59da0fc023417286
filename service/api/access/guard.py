"""What every route asks before it does anything: who is it, may they, and not too often?"""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import Depends, Request
from fastapi.routing import APIRoute

from service.api.access.door import Bearer, Door, WrongKey
from service.api.access.limits import Limits
from service.api.access.scopes import scope_of
from service.records.access.sessions import Behalf, Caller
from service.settings import Settings

_UNTOLD_ADDRESS: Final[str] = "unknown"
_FORWARDED: Final[tuple[str, ...]] = ("forwarded", "x-forwarded-for")
"""Headers by which a proxy tells for whom it asks (RFC 7239, and what was usual before)."""


class Guard:
    """The door, the limits, and on whose behalf the records are used.

    Parameters
    ----------
    door, limits
        Who comes in, and how often.
    """

    def __init__(self, settings: Settings, door: Door, limits: Limits) -> None:
        self.door = door
        self._limits = limits
        self._needs_consent = settings.require_consent

    async def behalf(self, request: Request, route: APIRoute) -> Behalf | None:
        """On whose behalf a request uses the records; ``None`` where it is about nobody's.

        Raises
        ------
        ProblemError
            When the request is turned away.
        """
        path = route.path_format
        scope = scope_of(request.method, path)
        if scope is None:
            return None
        address = request.client.host if request.client else _UNTOLD_ADDRESS
        try:
            bearer = await self.door.admit(
                request.headers.get("authorization"),
                scope,
                forwarded=any(name in request.headers for name in _FORWARDED),
            )
        except WrongKey:
            await self._limits.wrong_key(address)
            raise
        request.state.limit_headers = await self._limits.take(bearer, address)
        caller = Caller(bearer.key_prefix, request.state.request_id, request.method, path)
        return Behalf(bearer.academy_id, caller, self._asks_consent(bearer))

    def _asks_consent(self, bearer: Bearer) -> bool:
        if self._needs_consent is None:
            return bearer.key_prefix is not None
        return self._needs_consent


async def _guard(request: Request) -> Guard:
    guard = request.app.state.guard
    assert isinstance(guard, Guard)
    return guard


CurrentGuard = Annotated[Guard, Depends(_guard)]


async def admit(request: Request) -> None:
    """Ask what every route asks, and note on whose behalf the request is.

    Raises
    ------
    ProblemError
        When the request is turned away.
    """
    guard, route = await _guard(request), request.scope["route"]
    assert isinstance(route, APIRoute)
    request.state.behalf = await guard.behalf(request, route)
