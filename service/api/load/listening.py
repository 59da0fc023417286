"""Where connections wait to be taken: many may, and few are taken at once."""

from __future__ import annotations

import asyncio
import socket
from typing import Any, Final

TAKEN_AT_ONCE: Final[int] = 4
"""Connections that the event loop takes in one turn, so that processes that share a port share what
comes to it (with 64 one of two often took all of 16), and as many again twice before the first is
closed."""

MAY_WAIT: Final[int] = 4096
"""Connections that may wait to be taken; the system may allow fewer. Those beyond are not told:
their caller tries again after a second (RFC 6298, section 2.1), and a health check with it."""


class ListeningLoop(asyncio.SelectorEventLoop):
    """An event loop on whose sockets more connections may wait than it takes at once."""

    async def create_server(self, *args: Any, **options: Any) -> asyncio.Server:
        """As the event loops of asyncio do, which have one number for both."""
        server = await super().create_server(*args, **{**options, "backlog": TAKEN_AT_ONCE})
        for listening in server.sockets:
            with socket.socket(fileno=listening.dup().detach()) as same:
                same.listen(MAY_WAIT)
        return server
