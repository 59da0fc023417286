"""Whether the database can be reached, has the tables of this version and can be written."""

from __future__ import annotations

import shutil
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, create_engine, event, exc, make_url, text
from sqlalchemy.pool import NullPool

from service.records.connection.migrate import is_compatible, known_versions, newest_version
from service.records.connection.sqlite_files import SameFile, what_sqlite_says
from service.records.errors import ForeignDatabase, RecordsUnavailable
from service.records.impatience import give_up_after, quick_limits
from service.records.tables import Base

_WAIT_MS: Final[int] = 500
"""How long a check waits for a lock or a statement, in milliseconds."""

_LEAST_FREE: Final[int] = 4_000_000
"""Bytes that the largest change to a database takes beside it, its write-ahead log included; a
judgement."""
_UNBOUND: Final = text("SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user")
_BY_QUERIES_ALONE: Final[str] = (
    "; row-level security does not bind its role, so that queries alone keep academies apart"
)
_POSTGRES: Final = quick_limits(_WAIT_MS)


class DatabaseProbe:
    """Looks at a database over a connection of its own, so that no other work delays it.

    Parameters
    ----------
    url
        As of :class:`service.records.Database`.
    """

    def __init__(self, url: str) -> None:
        parsed = make_url(url)
        self._sqlite = parsed.get_backend_name() == "sqlite"
        self._file = parsed.database if self._sqlite else None
        self._stays = SameFile(self._file or "")
        options = {"timeout": _WAIT_MS / 1000} if self._sqlite else _POSTGRES
        self._engine = create_engine(
            parsed, poolclass=NullPool, connect_args=options, hide_parameters=True
        )
        if self._sqlite:
            event.listen(self._engine, "connect", _leave_transactions_to_us)
        else:
            give_up_after(self._engine, 2 * _WAIT_MS / 1000)

    def __call__(self) -> str:
        """Say in a few words that all is well.

        Raises
        ------
        RecordsUnavailable
            When the database can't be reached, read or written.
        ForeignDatabase
            When its tables are not those of this version.
        """
        if self._file and not self._file.startswith("file:"):
            if not Path(self._file).exists():
                raise RecordsUnavailable("the database file is not there")
            self._stays.check()
            with suppress(OSError):  # the database says why it can't be read
                _refuse_a_full_disk(Path(self._file))
        try:
            with self._engine.connect() as connection:
                _check_version(connection)
                for table in Base.metadata.sorted_tables:
                    connection.execute(table.select().limit(1)).first()
                connection.rollback()
                return self._check_writing(connection)
        except exc.DatabaseError as error:
            raise RecordsUnavailable(_in_short(error)) from None

    def _check_writing(self, connection: Connection) -> str:
        if not self._sqlite:
            read_only = connection.scalar(text("SHOW transaction_read_only"))
            if read_only != "off":
                raise RecordsUnavailable("the database takes no writes")
            unbound = connection.scalar(_UNBOUND)
            return "can be read and written" + (_BY_QUERIES_ALONE if unbound else "")
        try:
            connection.exec_driver_sql("BEGIN IMMEDIATE")
            connection.exec_driver_sql("UPDATE alembic_version SET version_num = version_num")
            connection.exec_driver_sql("ROLLBACK")
        except exc.OperationalError as error:
            if "locked" in str(error.orig):
                return "can be read; another write is going on"
            raise
        return "can be read and written"


def _refuse_a_full_disk(file: Path) -> None:
    """SQLite would find out only once a change is to be kept."""
    free = shutil.disk_usage(file.parent).free
    if free < _LEAST_FREE:
        raise RecordsUnavailable(
            f"the disk of the database is full: {free / 1e6:.1f} MB are left, and nothing can be "
            f"kept with less than {_LEAST_FREE / 1e6:.0f}"
        )


def _check_version(connection: Connection) -> None:
    try:
        found = connection.scalar(text("SELECT version_num FROM alembic_version"))
    except (exc.OperationalError, exc.ProgrammingError) as error:
        if "alembic_version" not in str(error.orig):
            raise
        found = None
    if found is None:
        raise ForeignDatabase(
            "the database lacks the tables of the service: run `python -m service migrate`"
        )
    later = found not in known_versions() and is_compatible(connection)
    if found != newest_version() and not later:
        raise ForeignDatabase(
            "the tables of the database are of another version of the service: run "
            "`python -m service migrate`, or the version that wrote them"
        )


def _in_short(error: exc.DatabaseError) -> str:
    """The first line of what the database says."""
    return what_sqlite_says(error.orig).strip().partition("\n")[0]


def _leave_transactions_to_us(connection: Any, _: object) -> None:
    connection.isolation_level = None
