"""Connections that bring nothing don't keep others out."""

from __future__ import annotations

import asyncio
import resource
from typing import Any, ClassVar, Final

from uvicorn.protocols.http.h11_impl import H11Protocol

HEADERS_WITHIN: Final[float] = 10.0
"""Seconds from a connection to the end of its first request's headers."""

BACKLOG: Final[int] = 64
"""Connections that may wait to be taken. The event loop takes them all at once, and as many again
twice before the first is closed."""

_KEPT_FREE: Final[int] = 3 * BACKLOG + 72
"""File descriptors left for connections about to be closed, files and the database."""


def most_connections() -> int:
    """How many connections the process may hold, by its limit of file descriptors."""
    descriptors, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return max(descriptors - _KEPT_FREE, _KEPT_FREE)


class BoundedProtocol(H11Protocol):
    """HTTP/1.1 with a bound on connections, and on how long one may stay silent.

    Without the bound the process runs out of file descriptors and then can take no
    connection at all, not even that of a health check.
    """

    _silent: ClassVar[dict[BoundedProtocol, None]] = {}
    """Connections that may not have brought a request yet, oldest first."""

    def connection_made(self, transport: Any) -> None:
        """Take a connection; when there are too many, the one silent longest makes way."""
        super().connection_made(transport)
        self._silent[self] = None
        self._due = asyncio.get_running_loop().call_later(HEADERS_WITHIN, self._close_if_silent)
        if len(self.connections) > most_connections():
            self._make_way()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget a connection."""
        self._due.cancel()
        self._silent.pop(self, None)
        super().connection_lost(exc)

    def _make_way(self) -> None:
        while self._silent:
            oldest = next(iter(self._silent))
            if oldest._close_if_silent():
                return

    def _close_if_silent(self) -> bool:
        """Whether it was, and is now closed; from then on it is not asked again."""
        self._silent.pop(self, None)
        silent = self.cycle is None and not self.transport.is_closing()
        if silent:
            self.transport.close()
        return silent
