"""Who comes in: bearers of a key (RFC 6750), or everybody in open mode."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

from service.api.access.remembered import Remembered
from service.api.problems.details import ProblemError
from service.api.problems.kinds import (
    COME_AGAIN,
    KEY_LACKS_SCOPE,
    KEY_MISSING,
    RECORDS_UNAVAILABLE,
)
from service.records import Database, RecordsUnavailable
from service.records.access import keys
from service.records.access.keys import ApiKey, KeyScope
from service.records.default_academy import DEFAULT_ACADEMY
from service.settings import Settings, on_loopback

_ANY: Final[str] = ""
_OPEN_WORDS: Final[str] = "open: whoever reaches this address is let in"
_KEYS_WORDS: Final[str] = "API keys are asked for"

_log = logging.getLogger(__name__)


class NobodyCouldEnter(Exception):
    """Raised at start where strangers reach the service and there is no key yet."""


class WrongKey(ProblemError):
    """Raised for a key that opens nothing."""


@dataclass(frozen=True)
class Bearer:
    """Whoever was let in. ``key_prefix`` is ``None`` in open mode."""

    academy_id: str = DEFAULT_ACADEMY
    key_prefix: str | None = None


_ANYBODY: Final = Bearer()


class Door:
    """Lets in who may come in.

    Parameters
    ----------
    records
        Where keys are kept; ``None`` where there is no database.
    """

    def __init__(self, settings: Settings, records: Database | None) -> None:
        self._always_open = settings.open is True
        self._host = settings.host
        self._open_until_keys = settings.open is None and on_loopback(settings.host)
        self._records = records
        self._keys = Remembered(self._find)
        self._any_key = Remembered(self._any_made)

    async def admit(
        self, authorization: str | None, scope: KeyScope, *, forwarded: bool = False
    ) -> Bearer:
        """Whoever sent this header, if that may be.

        Parameters
        ----------
        authorization
            The header of that name.
        forwarded
            Whether a proxy passes the request on, so that it may be a stranger's though it comes
            from this machine; then only ``SWING_OPEN`` lets it in without a key.

        Raises
        ------
        ProblemError
            401 without a good key, 403 with one that lacks the scope, 503 where the keys can't
            be looked up.
        """
        if self._always_open or (not forwarded and await self._lets_anybody(scope)):
            return _ANYBODY
        kind, _, sent = (authorization or "").partition(" ")
        sent = sent.strip()
        prefix = keys.prefix_of(sent) if kind.lower() == "bearer" else None
        key = await self._look_up(prefix) if prefix else None
        if key is None or not key.opens(sent, datetime.now(UTC)):
            raise _refused(authorization)
        if scope not in key.scopes:
            raise _lacking(scope)
        return Bearer(key.academy_id, key.prefix)

    async def is_open(self) -> bool:
        """Whether everybody is let in.

        Raises
        ------
        RecordsUnavailable
            When that hangs on the keys and they can't be looked up.
        """
        if self._open_for_sure():
            return True
        return self._open_until_keys and not await self._any_key.get(_ANY)

    def told(self) -> str:
        """Who is let in, in a few words, as far as is known; nobody waits for the database."""
        if self._open_for_sure():
            return _OPEN_WORDS
        made = self._any_key.recall(_ANY)
        if made is None and self._open_until_keys:
            return "only analysing is open: the database can't be asked for keys"
        return _OPEN_WORDS if self._open_until_keys and not made else _KEYS_WORDS

    def check(self) -> None:
        """Tell the log who is let in.

        Raises
        ------
        NobodyCouldEnter
            When others than this machine reach the service, nobody has a key, and no setting says
            that it is to be open.
        """
        made = self._made_by_now()
        if self._always_open or (self._open_until_keys and made is False):
            _log.warning("%s, as there are no keys or SWING_OPEN says so", _OPEN_WORDS)
            return
        _log.info(_KEYS_WORDS)
        if made is False and not on_loopback(self._host):
            raise NobodyCouldEnter(
                f"{self._host} can be reached from elsewhere and there is no key yet: make one "
                "with `python -m service keys create`, or set SWING_OPEN=true to let everybody "
                "in who reaches the address"
            )

    def _made_by_now(self) -> bool | None:
        """Whether a key was ever made; ``None`` where that can't be found out."""
        try:
            return self._any_key.remember(_ANY, self._any_made(_ANY))
        except RecordsUnavailable:
            return None

    def _open_for_sure(self) -> bool:
        return self._always_open or (self._open_until_keys and self._records is None)

    async def _lets_anybody(self, scope: KeyScope) -> bool:
        try:
            return await self.is_open()
        except RecordsUnavailable:
            # Analysing keeps nothing and shows nothing kept, so it goes on without the database.
            if scope is KeyScope.ANALYSE:
                return True
            raise _no_keys() from None

    async def _look_up(self, prefix: str) -> ApiKey | None:
        try:
            return await self._keys.get(prefix)
        except RecordsUnavailable:
            raise _no_keys() from None

    def _find(self, prefix: str) -> ApiKey | None:
        if self._records is None:
            return None
        with self._records.reading() as session:
            return keys.find(session, prefix)

    def _any_made(self, _: str) -> bool:
        if self._records is None:
            return False
        with self._records.reading() as session:
            return keys.any_made(session)


def _refused(authorization: str | None) -> ProblemError:
    realm = 'Bearer realm="swing"'
    if not authorization:
        return ProblemError(KEY_MISSING, KEY_MISSING.meaning, {"WWW-Authenticate": realm})
    wrong = {"WWW-Authenticate": f'{realm}, error="invalid_token"'}
    return WrongKey(KEY_MISSING, KEY_MISSING.meaning, wrong)


def _lacking(scope: KeyScope) -> ProblemError:
    challenge = f'Bearer realm="swing", error="insufficient_scope", scope="{scope}"'
    return ProblemError(
        KEY_LACKS_SCOPE,
        f"This takes a key with the scope `{scope}`.",
        {"WWW-Authenticate": challenge},
    )


def _no_keys() -> ProblemError:
    return ProblemError(RECORDS_UNAVAILABLE, RECORDS_UNAVAILABLE.meaning, COME_AGAIN)
