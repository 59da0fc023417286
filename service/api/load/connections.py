"""Connections that bring nothing, or bring it too slowly, don't keep others out."""

from __future__ import annotations

import asyncio
import resource
from enum import Enum, auto
from typing import Any, ClassVar, Final

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEADERS_WITHIN: Final[float] = 10.0
"""Seconds from a connection, or from the first byte of a later request, to the end of its
headers."""

BODY_WINDOW: Final[float] = 10.0
"""Seconds in each of which a body must go on by at least :data:`BODY_LEAST`."""

BODY_LEAST: Final[int] = 20_000
"""Bytes: 2 kB a second. Web servers ask for 0.5 as they come (Apache, mod_reqtimeout,
``RequestReadTimeout body=20,MinRate=500``)."""

ANSWER_STUCK: Final[float] = 30.0
"""Seconds within which a caller must take a bufferful of its answer."""

BACKLOG: Final[int] = 64
"""Connections that may wait to be taken. The event loop takes them all at once, and as many again
twice before the first is closed."""

_KEPT_FREE: Final[int] = 3 * BACKLOG + 72
"""File descriptors left for connections about to be closed, files and the database."""

_LINGER: Final[float] = 5.0
"""Seconds in which what is left to send may still go out once a connection is being closed."""

_TOO_SLOW: Final[bytes] = (
    b'{"type":"about:blank","title":"Request Timeout","status":408,'
    b'"detail":"The request came in too slowly. Send it again over a faster connection."}'
)
_TIMED_OUT: Final[bytes] = (
    b"HTTP/1.1 408 Request Timeout\r\ncontent-type: application/problem+json\r\n"
    b"connection: close\r\ncontent-length: %d\r\n\r\n%s" % (len(_TOO_SLOW), _TOO_SLOW)
)


class _Stage(Enum):
    """What a connection is waited for to bring."""

    NOTHING = auto()
    HEADERS = auto()
    BODY = auto()


def most_connections() -> int:
    """How many connections the process may hold, by its limit of file descriptors."""
    descriptors, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return max(descriptors - _KEPT_FREE, _KEPT_FREE)


class BoundedProtocol(H11Protocol):
    """HTTP/1.1 with a bound on connections, and on how long each may take over headers, body and
    taking its answer.

    Without the bound the process runs out of file descriptors and then can take no
    connection at all, not even that of a health check.
    """

    _silent: ClassVar[dict[BoundedProtocol, None]] = {}
    """Connections that have brought no whole headers yet, oldest first."""

    _due: asyncio.TimerHandle | None = None
    _stuck: asyncio.TimerHandle | None = None
    _stage = _Stage.NOTHING
    _came_in = 0

    def connection_made(self, transport: Any) -> None:
        """Take a connection; when there are too many, the one silent longest makes way."""
        super().connection_made(transport)
        self._silent[self] = None
        self._wait_for(_Stage.HEADERS)
        if len(self.connections) > most_connections():
            self._make_way()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget a connection."""
        self._wait_for(_Stage.NOTHING)
        self._answer_moves()
        self._silent.pop(self, None)
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take in what came, and see what is still to come."""
        self._came_in += len(data)
        super().data_received(data)
        self._look()

    def on_response_complete(self) -> None:
        """See whether another request has begun."""
        super().on_response_complete()
        self._look()

    def pause_writing(self) -> None:
        """The caller does not take its answer as fast as it is made."""
        super().pause_writing()
        self._stuck = self.loop.call_later(ANSWER_STUCK, self.transport.abort)

    def resume_writing(self) -> None:
        """The caller took a bufferful."""
        self._answer_moves()
        super().resume_writing()

    def _answer_moves(self) -> None:
        if self._stuck is not None:
            self._stuck.cancel()
            self._stuck = None

    def _look(self) -> None:
        stage = self._stage_now()
        if stage is not _Stage.HEADERS:
            self._silent.pop(self, None)
        if stage is not self._stage:
            self._wait_for(stage)

    def _stage_now(self) -> _Stage:
        if self.transport.is_closing():
            return _Stage.NOTHING
        if self.conn.their_state is h11.SEND_BODY:
            return _Stage.BODY
        first_or_begun = self.cycle is None or bool(self.conn.trailing_data[0])
        waits = self.conn.their_state is h11.IDLE and first_or_begun
        return _Stage.HEADERS if waits else _Stage.NOTHING

    def _wait_for(self, stage: _Stage) -> None:
        if self._due is not None:
            self._due.cancel()
        self._stage, self._due = stage, None
        if stage is _Stage.HEADERS:
            self._due = self.loop.call_later(HEADERS_WITHIN, self._end)
        elif stage is _Stage.BODY:
            self._came_in = 0
            self._due = self.loop.call_later(BODY_WINDOW, self._judge_body)

    def _judge_body(self) -> None:
        """A body that the service itself has stopped reading is not slow."""
        if self._came_in >= BODY_LEAST or self.flow.read_paused:
            self._wait_for(_Stage.BODY)
        else:
            self._end()

    def _make_way(self) -> None:
        oldest = next(iter(self._silent), None)
        if oldest is not None:
            oldest._end()

    def _end(self) -> None:
        """Close; who has sent part of a request is told why, unless an answer is on its way."""
        self._silent.pop(self, None)
        begun = self._stage is _Stage.BODY or bool(self.conn.trailing_data[0])
        answered = self._stage is _Stage.BODY and self.cycle.response_started
        self._wait_for(_Stage.NOTHING)
        if begun and not answered:
            self.transport.write(_TIMED_OUT)
        if self.cycle is not None and not self.cycle.response_complete:
            self.cycle.disconnected = True
            self.cycle.message_event.set()
        self.transport.close()
        self.loop.call_later(_LINGER, self.transport.abort)
