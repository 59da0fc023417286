"""What was looked up a moment ago, so that not every request waits for the database."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Generic, TypeVar

from anyio import CapacityLimiter, move_on_after, to_thread

from service.records import RecordsError, RecordsUnavailable

Found = TypeVar("Found")

GOOD_FOR: Final[float] = 5.0
"""Seconds for which what was found is not looked up again: so late a revocation may work."""

STANDS_FOR: Final[float] = 600.0
"""Seconds for which it stands while the database can't be asked."""

_PATIENCE: Final[float] = 1.0
"""Seconds to wait for an answer."""

_LET_REST: Final[float] = 2.0
"""Seconds for which a database that gave no answer is not asked again."""

_MOST: Final[int] = 1000
_LANES: Final[int] = 4


@dataclass
class _Entry(Generic[Found]):
    found: Found
    at: float


class Remembered(Generic[Found]):
    """Remembers what was found under a name, for :data:`GOOD_FOR` seconds.

    Parameters
    ----------
    look_up
        Finds it, in a thread.
    """

    def __init__(self, look_up: Callable[[str], Found]) -> None:
        self._look_up = look_up
        self._entries: OrderedDict[str, _Entry[Found]] = OrderedDict()
        self._rests_until = 0.0
        self._lane: CapacityLimiter | None = None

    def recall(self, name: str) -> Found | None:
        """What was last found under a name, however long ago; nothing is looked up."""
        entry = self._entries.get(name)
        return None if entry is None else entry.found

    def remember(self, name: str, found: Found) -> Found:
        """Remember what was found, and forget what was remembered longest beyond some.

        Nothing found is not remembered: guesses would have what was found forgotten.
        """
        if found is None:
            self._entries.pop(name, None)
            return found
        self._entries[name] = _Entry(found, time.monotonic())
        self._entries.move_to_end(name)
        if len(self._entries) > _MOST:
            self._entries.popitem(last=False)
        return found

    async def get(self, name: str) -> Found:
        """What is found under a name.

        Raises
        ------
        RecordsUnavailable
            When the database can't be asked and nothing is remembered that still stands.
        """
        now = time.monotonic()
        entry = self._entries.get(name)
        if entry is not None and now - entry.at < GOOD_FOR:
            return entry.found
        if now >= self._rests_until:
            try:
                return self.remember(name, await self._ask(name))
            except RecordsError:
                self._rests_until = time.monotonic() + _LET_REST
        if entry is not None and now - entry.at < STANDS_FOR:
            return entry.found
        raise RecordsUnavailable("the keys can't be looked up")

    async def _ask(self, name: str) -> Found:
        self._lane = self._lane or CapacityLimiter(_LANES)
        with move_on_after(_PATIENCE):
            return await to_thread.run_sync(
                self._look_up, name, limiter=self._lane, abandon_on_cancel=True
            )
        raise RecordsUnavailable(f"the keys were not found within {_PATIENCE:g} s")
