"""How much of its allowance each caller has used up, counted for all processes together.

The generic cell rate algorithm (ITU-T I.371, annex A, as from memory; a leaky bucket that keeps one
number): each request moves the caller's theoretical time of arrival on by one interval, and is
refused where that would lie further ahead than the allowance's window. One statement reads, decides
and writes, so that processes can't count past one another.

On PostgreSQL the numbers stand in a table that is not logged; on SQLite in a file of their own
beside the records, without waiting for the disk, as losing them in a power cut loses nothing. Own
code because the library for this (`limits`) keeps its counts in Redis, Memcached, MongoDB or one
process's memory only, none of which this service needs otherwise.
"""

from __future__ import annotations

import math
import os
import queue
import re
import sqlite3
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import gettempdir
from typing import Any, Final

import psycopg
from sqlalchemy import make_url

from service.records.errors import RecordsUnavailable
from service.records.impatience import ImpatientConnection, quick_limits

WINDOW: Final[float] = 60.0
"""Seconds in which the whole allowance may be used, at once or bit by bit."""

_WAIT_MS: Final[int] = 200
"""How long counting may take, in milliseconds, before a request goes uncounted."""

_POSTGRES: Final = quick_limits(_WAIT_MS)

_TABLE: Final[str] = (
    "CREATE TABLE IF NOT EXISTS allowance (who TEXT PRIMARY KEY, arrival REAL NOT NULL)"
)
_COUNT: Final[str] = """
INSERT INTO allowance (who, arrival) VALUES (:who, {now} + :interval)
ON CONFLICT (who) DO UPDATE SET arrival = {max}(allowance.arrival, {now}) + :interval
WHERE {max}(allowance.arrival, {now}) + :interval <= {now} + :window
RETURNING arrival - {now}
"""
_SWEEP: Final[str] = "DELETE FROM allowance WHERE arrival < {now}"
"""What lies behind counts as nothing: callers who have long gone leave no row."""

_LOOK: Final[str] = "SELECT arrival - {now} FROM allowance WHERE who = :who"


@dataclass(frozen=True)
class Counted:
    """What became of one request.

    Attributes
    ----------
    remaining
        Requests that may follow at once.
    restored_in
        Seconds until the whole allowance is there again.
    wait
        Seconds until one more is allowed; 0 where this one was.
    """

    remaining: int
    restored_in: float
    wait: float


class Rates:
    """Counts requests against an allowance of some in each :data:`WINDOW`.

    Parameters
    ----------
    database_url
        That of the records, or empty; then the processes of this machine share a file.
    """

    def __init__(self, database_url: str) -> None:
        postgres = database_url.startswith("postgresql")
        self._run = _on_postgres(database_url) if postgres else _in_file(_beside(database_url))
        self._swept = time.monotonic()

    def count(self, who: str, allowed: int) -> Counted:
        """Count one request, unless it is too many.

        Parameters
        ----------
        allowed
            Requests in :data:`WINDOW`.

        Raises
        ------
        RecordsUnavailable
            When the counts can't be reached.
        """
        interval = WINDOW / allowed
        values = {"who": who, "interval": interval, "window": WINDOW}
        if time.monotonic() - self._swept > WINDOW:
            self._swept = time.monotonic()
            self._run(_SWEEP, {})
        ahead = self._run(_COUNT, values)
        if ahead is not None:
            return Counted(int((WINDOW - ahead) / interval + 1e-6), max(ahead, 0.0), 0.0)
        ahead = self._run(_LOOK, {"who": who}) or 0.0
        return Counted(0, ahead, max(ahead + interval - WINDOW, 0.0))


def seconds(wait: float) -> int:
    """Whole seconds that are no shorter.

    >>> seconds(0.2), seconds(3.0)
    (1, 3)
    """
    return math.ceil(wait)


_Run = Callable[[str, dict[str, Any]], float | None]


def _on_postgres(url: str) -> _Run:
    where = make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)
    idle: queue.LifoQueue[ImpatientConnection] = queue.LifoQueue()
    clock = "extract(epoch FROM clock_timestamp())"  # one clock for processes on several machines
    names = {name: f"%({name})s" for name in ("who", "interval", "window")}
    prepared = {
        statement: re.sub(r":(\w+)", lambda name: names[name[1]], statement).format(
            max="greatest", now=clock
        )
        for statement in (_COUNT, _LOOK, _SWEEP)
    }

    def run(statement: str, values: dict[str, Any]) -> float | None:
        connection = None
        try:
            connection = _idle_or_new(idle, where)
            cursor = connection.execute(prepared[statement].encode(), values)
            row = cursor.fetchone() if cursor.description else None
        except psycopg.Error as error:
            if connection is not None:
                connection.close()
            raise RecordsUnavailable(str(error)) from None
        idle.put(connection)
        return None if row is None else float(row[0])

    return run


def _idle_or_new(idle: queue.LifoQueue[ImpatientConnection], where: str) -> ImpatientConnection:
    """A connection that nobody uses; there are as many as threads that count at once."""
    try:
        return idle.get_nowait()
    except queue.Empty:
        connection = ImpatientConnection.connect(where, autocommit=True, **_POSTGRES)
        connection.patience = 2 * _WAIT_MS / 1000
        return connection


def _in_file(path: Path) -> _Run:
    connection: sqlite3.Connection | None = None
    one_at_a_time = threading.Lock()
    prepared = {s: s.format(max="max", now=":now") for s in (_COUNT, _LOOK, _SWEEP)}

    def run(statement: str, values: dict[str, Any]) -> float | None:
        nonlocal connection
        try:
            with one_at_a_time:
                connection = connection or _open(path)
                cursor = connection.execute(prepared[statement], {**values, "now": time.time()})
                row = cursor.fetchone()
                cursor.fetchall()  # the statement is done, and what it wrote is kept
        except (sqlite3.Error, OSError) as error:
            connection = None
            raise RecordsUnavailable(f"{path}: {error}") from None
        return None if row is None else float(row[0])

    return run


def _open(path: Path) -> sqlite3.Connection:
    path.parent.mkdir(0o700, exist_ok=True)
    os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
    connection = sqlite3.connect(
        path, timeout=_WAIT_MS / 1000, isolation_level=None, check_same_thread=False
    )
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = OFF")
    connection.execute(_TABLE)
    connection.execute("DELETE FROM allowance WHERE arrival < ?", (time.time(),))
    return connection


def _beside(database_url: str) -> Path:
    records = make_url(database_url).database if database_url else None
    if not records or records.startswith((":", "file:")):
        return Path(gettempdir()) / f"swing-allowances-{os.getuid()}.db"
    return Path(records).with_suffix(".allowances")
