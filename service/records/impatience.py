"""PostgreSQL connections that give up on a server which answers nothing.

The server's own limits on statements and locks hold only while it runs: one that is stopped, or
behind a network that swallows what is sent, keeps whoever waits for it waiting.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

import psycopg
from psycopg.abc import PQGen
from sqlalchemy import Connection, Engine, event

_LOOK_AGAIN: Final[float] = 0.1
"""Seconds between looks at the clock."""


class ImpatientConnection(psycopg.Connection[Any]):
    """A connection on which no wait for the server is longer than :attr:`patience` seconds."""

    patience: float | None = None

    def wait(self, gen: PQGen[Any], *_: Any, **__: Any) -> Any:
        """Wait for an answer of the server.

        Raises
        ------
        psycopg.OperationalError
            When none came in time; the connection is closed then, as it is of no more use.
        """
        if self.patience is None:
            return super().wait(gen)
        try:
            return super().wait(_in_time(gen, self.patience), _LOOK_AGAIN)
        except _TooLong:
            self.pgconn.finish()
            raise psycopg.OperationalError(
                f"the database gave no answer within {self.patience:g} s"
            ) from None


class _TooLong(Exception):
    """The server gave no answer in time."""


def _in_time(gen: PQGen[Any], seconds: float) -> PQGen[Any]:
    """The same exchange with the server, ended when it lasts too long.

    Whoever drives it looks in at every interval, whether or not anything came.
    """
    end = time.monotonic() + seconds
    try:
        wanted = next(gen)
        while True:
            ready = yield wanted
            if not ready and time.monotonic() > end:
                raise _TooLong
            wanted = gen.send(ready)
    except StopIteration as done:
        return done.value


def quick_limits(milliseconds: int) -> dict[str, Any]:
    """What a connection is opened with that must be answered at once, or is of no use.

    Parameters
    ----------
    milliseconds
        How long a statement, and each lock that it waits for, may take.
    """
    return {
        "connect_timeout": 2,  # seconds; the least that the driver's library takes
        "options": f"-c statement_timeout={milliseconds} -c lock_timeout={milliseconds}",
    }


def give_up_after(engine: Engine, seconds: float) -> None:
    """Have an engine open connections of :class:`ImpatientConnection`."""

    @event.listens_for(engine, "do_connect")
    def _connect(_dialect: Any, _record: Any, args: Any, parameters: Any) -> ImpatientConnection:
        connection = ImpatientConnection.connect(*args, **parameters)
        connection.patience = seconds
        return connection


@contextmanager
def all_the_time(connection: Connection) -> Iterator[None]:
    """Wait for the server as long as it takes, as a migration may."""
    driver = connection.connection.dbapi_connection
    if not isinstance(driver, ImpatientConnection):
        yield
        return
    patience, driver.patience = driver.patience, None
    try:
        yield
    finally:
        driver.patience = patience
