"""Connections that bring nothing, or bring it too slowly, don't keep others out."""

from __future__ import annotations

import asyncio
import resource
from enum import Enum, auto
from itertools import chain
from typing import Any, ClassVar, Final

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from service.api.load.listening import TAKEN_AT_ONCE

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

_KEPT_FREE: Final[int] = 3 * TAKEN_AT_ONCE + 72
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
    """What a connection is waited for to bring, those that make way first at the head."""

    LEFT_OVER = auto()
    """The rest of a body whose request is answered already."""
    IDLE = auto()
    """Another request, or none."""
    HEADERS = auto()
    BODY = auto()
    NOTHING = auto()
    """The service is at work on it."""


_MAKE_WAY: Final[tuple[_Stage, ...]] = tuple(each for each in _Stage if each is not _Stage.NOTHING)


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

    _waited_for: ClassVar[dict[_Stage, dict[BoundedProtocol, None]]] = {s: {} for s in _MAKE_WAY}
    """Connections that are to bring something, those that have been for longest first."""

    _due: asyncio.TimerHandle | None = None
    _stuck: asyncio.TimerHandle | None = None
    _stage = _Stage.NOTHING
    _came_in = 0

    def connection_made(self, transport: Any) -> None:
        """Take a connection; when there are too many, one that brings nothing makes way."""
        super().connection_made(transport)
        self._wait_for(_Stage.HEADERS)
        if len(self.connections) > most_connections():
            self._make_way()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget a connection."""
        self._wait_for(_Stage.NOTHING)
        self._answer_moves()
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
        if stage is not self._stage:
            self._wait_for(stage)

    def _stage_now(self) -> _Stage:
        if self.transport.is_closing():
            return _Stage.NOTHING
        if self.conn.their_state is h11.SEND_BODY:
            answered = self.cycle is not None and self.cycle.response_complete
            return _Stage.LEFT_OVER if answered else _Stage.BODY
        if self.conn.their_state is not h11.IDLE:
            return _Stage.NOTHING
        first_or_begun = self.cycle is None or bool(self.conn.trailing_data[0])
        return _Stage.HEADERS if first_or_begun else _Stage.IDLE

    def _wait_for(self, stage: _Stage) -> None:
        if self._due is not None:
            self._due.cancel()
        if stage is not self._stage:
            self._waited_for.get(self._stage, {}).pop(self, None)
            self._waited_for.get(stage, {})[self] = None
        self._stage, self._due = stage, None
        if stage is _Stage.HEADERS:
            self._due = self.loop.call_later(HEADERS_WITHIN, self._end)
        elif stage in (_Stage.BODY, _Stage.LEFT_OVER):
            self._came_in = 0
            self._due = self.loop.call_later(BODY_WINDOW, self._judge_body)

    def _judge_body(self) -> None:
        """A body that the service itself has stopped reading is not slow."""
        if self._came_in >= BODY_LEAST or self.flow.read_paused:
            self._wait_for(self._stage)
        else:
            self._end()

    def _make_way(self) -> None:
        waited_for = chain.from_iterable(self._waited_for[stage] for stage in _MAKE_WAY)
        oldest = next((each for each in waited_for if each is not self), None)
        if oldest is not None:
            oldest._end()

    def _end(self) -> None:
        """Close; who has sent part of a request is told why, unless an answer is on its way."""
        in_body = self._stage in (_Stage.BODY, _Stage.LEFT_OVER)
        begun = in_body or bool(self.conn.trailing_data[0])
        answered = in_body and self.cycle.response_started
        self._wait_for(_Stage.NOTHING)
        if begun and not answered:
            self.transport.write(_TIMED_OUT)
        if self.cycle is not None and not self.cycle.response_complete:
            self.cycle.disconnected = True
            self.cycle.message_event.set()
        self.transport.close()
        self.loop.call_later(_LINGER, self.transport.abort)
