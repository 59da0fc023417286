"""How often a caller may ask, told in the fields of draft-ietf-httpapi-ratelimit-headers-10.

That is a draft of the IETF's HTTPAPI working group and no standard yet: names and syntax may still
change. Where the counts can't be reached, requests go on uncounted, and the log says so.
"""

from __future__ import annotations

import logging
import time
from ipaddress import IPv6Address, ip_address, ip_network
from typing import Final

from anyio import CapacityLimiter, to_thread

from service.api.access.door import Bearer
from service.api.problems.details import ProblemError
from service.api.problems.kinds import TOO_MANY
from service.records import RecordsUnavailable
from service.records.access.rates import WINDOW, Counted, Rates, seconds
from service.settings import Settings

_LET_REST: Final[float] = 5.0
"""Seconds for which counts that could not be reached are left alone."""

_LANES: Final[int] = 4

_TOLD_EVERY: Final[float] = 60.0
"""Seconds between two lines in the log about wrong keys that keep coming."""

_ONE_CALLER: Final[int] = 64
"""Leading bits of an IPv6 address that tell callers apart: the rest is each caller's to choose."""

_LONGEST_NAME: Final[int] = 50

_WRONG_KEYS: Final[str] = (
    "Too many wrong keys came from this address; a right one is let in all the same."
)

_log = logging.getLogger(__name__)


class Limits:
    """Turns away who asks too often."""

    def __init__(self, settings: Settings) -> None:
        self._by_key = settings.rate_limit
        self._by_address = settings.open_rate_limit
        self._wrong_keys = settings.wrong_key_limit
        self._rates = Rates(settings.database_url)
        self._rests_until = 0.0
        self._told_at = -_TOLD_EVERY
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
        if by_key:
            return await self._counted(
                "key", bearer.key_prefix or "", self._by_key, TOO_MANY.meaning
            )
        who = f"from {caller_at(address)}"
        return await self._counted("address", who, self._by_address, TOO_MANY.meaning)

    async def wrong_key(self, address: str) -> None:
        """Count a wrong key that came from an address.

        Right ones are not asked about here, so that nobody can have a customer shut out by
        guessing from the same address.

        Raises
        ------
        ProblemError
            When it is one too many.
        """
        who = caller_at(address)
        try:
            await self._counted("wrong-keys", f"wrong {who}", self._wrong_keys, _WRONG_KEYS)
        except ProblemError:
            if time.monotonic() - self._told_at >= _TOLD_EVERY:
                self._told_at = time.monotonic()
                _log.warning("wrong keys keep coming", extra={"fields": {"from": who}})
            raise

    async def _counted(self, policy: str, who: str, allowed: int, meaning: str) -> dict[str, str]:
        """Count one request of somebody; the headers that tell what is left.

        Raises
        ------
        ProblemError
        """
        if not allowed or time.monotonic() < self._rests_until:
            return {}
        counted = await self._count(who, allowed)
        if counted is None:
            return {}
        headers = {
            "RateLimit-Policy": f'"{policy}";q={allowed};w={WINDOW:.0f}',
            "RateLimit": f'"{policy}";r={counted.remaining};t={seconds(counted.restored_in)}',
        }
        if counted.wait > 0:
            wait = {"Retry-After": str(seconds(counted.wait))}
            raise ProblemError(TOO_MANY, meaning, headers | wait)
        return headers

    async def _count(self, who: str, allowed: int) -> Counted | None:
        self._lane = self._lane or CapacityLimiter(_LANES)
        try:
            return await to_thread.run_sync(self._rates.count, who, allowed, limiter=self._lane)
        except RecordsUnavailable as error:
            self._rests_until = time.monotonic() + _LET_REST
            _log.error("requests go uncounted for %g s: %s", _LET_REST, error)
            return None


def caller_at(address: str) -> str:
    """What tells a caller from others by an address: of IPv6 the network, as each has many.

    >>> caller_at("192.0.2.7"), caller_at("::ffff:192.0.2.7"), caller_at("2001:db8::1:2:3:4")
    ('192.0.2.7', '192.0.2.7', '2001:db8::/64')
    >>> caller_at("testclient")
    'testclient'
    """
    try:
        known = ip_address(address)
    except ValueError:
        return address[:_LONGEST_NAME]
    if not isinstance(known, IPv6Address):
        return str(known)
    if known.ipv4_mapped is not None:
        return str(known.ipv4_mapped)
    return str(ip_network((known.packed, _ONE_CALLER), strict=False))
