"""The files of a SQLite database: nobody else's to read, where they were, rid of what was deleted.

An open file can be moved or deleted under a process that goes on writing to it, and whatever it
keeps then is lost once it stops. So a connection is given up as soon as the path leads elsewhere.

Nobody but SQLite opens a database that is there: closing a file gives up every lock that the
process has on it (POSIX, ``close``; SQLite's "How To Corrupt An SQLite Database File", section
2.2). Another process then takes itself for the last to leave, and deletes the write-ahead log that
this one goes on writing to.
"""

from __future__ import annotations

import logging
import os
import sqlite3
import threading
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Engine, event, exc
from sqlalchemy.pool import ConnectionPoolEntry

from service.records.errors import RecordsUnavailable

_NO_DATABASE: Final[str] = (
    "the file is no SQLite database, or damaged: name another in SWING_DATABASE_URL, or bring a "
    "backup back with `python -m service restore FILE`"
)
_OWNER_ONLY: Final[int] = 0o600
_OWNER_ONLY_FOLDER: Final[int] = 0o700

_WAIT_MS: Final[int] = 300
"""How long a deletion waits for readers, in milliseconds, before its rest is left for later."""

_AGAIN: Final[float] = 1.0
"""Seconds until what was left for later is tried again."""

_FILE: Final[str] = "service_file"
"""Where a connection keeps which file it has open."""

_MAKING: Final = threading.Lock()
"""Held until a file that is made is closed, so that SQLite has no lock on it before."""

_log = logging.getLogger(__name__)


def keep_private(engine: Engine, file: str) -> None:
    """Make the database file readable for its owner alone, before anything is in it.

    What SQLite puts beside it, the write-ahead log and its index, takes on the same permissions.
    Its folder is made where that alone is missing, and then is the owner's alone too. What was
    there once is not made anew: an empty database would hide that the records are gone.
    """
    path, stays = Path(file), SameFile(file)

    @event.listens_for(engine, "do_connect")
    def _prepare(*_: Any) -> None:
        try:
            if not stays.is_known:
                path.parent.mkdir(_OWNER_ONLY_FOLDER, exist_ok=True)
                _make_if_missing(path)
            path.stat()
            stays.check()
            if os.access(path, os.R_OK | os.W_OK):  # one that is only read stays so
                path.chmod(_OWNER_ONLY)
        except PermissionError:
            return  # another's file: what can be done with it, SQLite will say
        except OSError as error:
            raise RecordsUnavailable(f"unable to open {file}: {error.strerror}") from None


def _make_if_missing(path: Path) -> None:
    """Make an empty file, for its owner alone; one that is there is not opened."""
    with _MAKING, suppress(FileExistsError):
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, _OWNER_ONLY))


def give_up_what_is_elsewhere(engine: Engine, file: str) -> None:
    """Take no connection whose file is no longer at its path."""

    @event.listens_for(engine, "connect")
    def _note(_: Any, record: ConnectionPoolEntry) -> None:
        record.info[_FILE] = file, _identity(file)

    @event.listens_for(engine, "checkout")
    def _check(_: Any, record: ConnectionPoolEntry, __: Any) -> None:
        if not is_where_it_was(record.info):
            raise exc.DisconnectionError  # the pool then connects anew


def is_where_it_was(info: Mapping[Any, Any]) -> bool:
    """Whether the file that a connection has open is still at its path.

    Parameters
    ----------
    info
        Of the connection; that of any but a file's has nothing to tell.
    """
    file, opened = info.get(_FILE, (None, None))
    return file is None or _identity(file) == opened


class SameFile:
    """A file that stays what it was when it was seen first.

    Another in its place is not taken: the write-ahead log beside it may be that of the first.
    """

    def __init__(self, file: str) -> None:
        self._file = file
        self._first = _identity(file)

    @property
    def is_known(self) -> bool:
        """Whether it was seen."""
        return self._first is not None

    def check(self) -> None:
        """See it.

        Raises
        ------
        RecordsUnavailable
            When it is another than it was.
        """
        found = _identity(self._file)
        self._first = self._first or found
        if found != self._first:
            raise RecordsUnavailable(
                f"another file has taken the place of the database {self._file}: stop the service, "
                "and move what ends with -wal and -shm together with the database it belongs to"
            )


def _identity(file: str) -> tuple[int, int] | None:
    """What tells a file from another at its path; ``None`` where there is none."""
    try:
        told = os.stat(file)
    except OSError:
        return None
    return told.st_dev, told.st_ino


def what_sqlite_says(error: BaseException | None) -> str:
    """An error of SQLite in words, with what to do where the file is none of its databases."""
    if getattr(error, "sqlite_errorname", None) == "SQLITE_NOTADB":
        return _NO_DATABASE
    return str(error)


class WriteAheadLog:
    """Folds the write-ahead log into the database, after which it holds nothing that was deleted.

    Deleted rows are overwritten in the database file (``secure_delete``), but as they were stand
    in the log until it is folded in, which can't be done while somebody reads an older state.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._owed = False
        self._closed = False
        self._lock = threading.Lock()

    def fold_in(self) -> None:
        """Fold it in now, or as soon as those who read have done."""
        with self._lock:
            if self._fold():
                self._owed = False
            elif not self._owed:
                self._owed = True
                self._later()

    def close(self) -> None:
        """Try a last time; what even then is owed is done by the next start."""
        with self._lock:
            self._closed = True
            if self._owed and not self._fold():
                _log.warning("a reader keeps deleted rows in the write-ahead log")

    def _later(self) -> None:
        timer = threading.Timer(_AGAIN, self._try_again)
        timer.daemon = True
        timer.start()

    def _try_again(self) -> None:
        with self._lock:
            if self._closed:
                return
            self._owed = not self._fold()
            if self._owed:
                self._later()

    def _fold(self) -> bool:
        """Whether nothing is left in the log."""
        try:
            with self._engine.connect() as connection:
                # Straight to the driver, as a checkpoint must stand outside any transaction.
                cursor = connection.connection.cursor()
                (usual,) = cursor.execute("PRAGMA busy_timeout").fetchone()
                cursor.execute(f"PRAGMA busy_timeout = {_WAIT_MS}")
                try:
                    busy, *_ = cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
                finally:
                    cursor.execute(f"PRAGMA busy_timeout = {usual}")
                return not busy
        except (exc.SQLAlchemyError, sqlite3.Error, RecordsUnavailable) as error:  # as a full disk
            _log.warning("the write-ahead log was not folded in: %s", error)
            return False
