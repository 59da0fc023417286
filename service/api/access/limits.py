"""How often a caller may ask, told in the fields of draft-ietf-httpapi-ratelimit-headers-10.

That is a draft of the IETF's HTTPAPI working group and no standard yet: names and syntax may still
change. Where the counts can't be reached, requests go on uncounted, and the log says so.
"""

from __future__ import annotations

import logging
import time
from typing import Final

from anyio import CapacityLimiter, to_thread

from service.api.access.door import Bearer
from service.api.http.problems import TOO_MANY, ProblemError
from service.records import RecordsUnavailable
from service.records.access.rates import WINDOW, Counted, Rates, seconds
from service.settings import Settings

_LET_REST: Final[float] = 5.0
"""Seconds for which counts that could not be reached are left alone."""

_LANES: Final[int] = 4

_log = logging.getLogger(__name__)


class Limits:
    """Turns away who asks too often."""

    def __init__(self, settings: Settings) -> None:
        self._by_key = settings.rate_limit
        self._by_address = settings.open_rate_limit
        self._rates = Rates(settings.database_url)
        self._rests_until = 0.0
        self._lane: CapacityLimiter | None = None

    async def take(self, bearer: Bearer, address: str) -> dict[str, str]:
        """Count one request, and tell the headers that go with its answer.

        Parameters
        ----------
        address
            Of the caller, by which requests without a key are counted.

        Raises
        ------
        ProblemError
            When it is one too many; the headers are with it.
        """
        by_key = bearer.key_prefix is not None
        allowed = self._by_key if by_key else self._by_address
        if not allowed or time.monotonic() < self._rests_until:
            return {}
        counted = await self._count(bearer.key_prefix or f"from {address}"[:64], allowed)
        if counted is None:
            return {}
        policy = "key" if by_key else "address"
        headers = {
            "RateLimit-Policy": f'"{policy}";q={allowed};w={WINDOW:.0f}',
            "RateLimit": f'"{policy}";r={counted.remaining};t={seconds(counted.restored_in)}',
        }
        if counted.wait > 0:
            wait = {"Retry-After": str(seconds(counted.wait))}
            raise ProblemError(TOO_MANY, TOO_MANY.meaning, headers | wait)
        return headers

    async def _count(self, who: str, allowed: int) -> Counted | None:
        self._lane = self._lane or CapacityLimiter(_LANES)
        try:
            return await to_thread.run_sync(self._rates.count, who, allowed, limiter=self._lane)
        except RecordsUnavailable as error:
            self._rests_until = time.monotonic() + _LET_REST
            _log.error("requests go uncounted for %g s: %s", _LET_REST, error)
            return None
