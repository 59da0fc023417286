"""Bring a database to the tables of this version."""

from __future__ import annotations

from functools import cache
from threading import Lock
from typing import Final

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect, text

from service.records.database import Database
from service.records.errors import ForeignDatabase

_MIGRATIONS: Final[str] = "service.records:migrations"
_LOCK: Final[int] = 0x5377_696E_67  # any number that nothing else in the database locks

_ONE_AT_A_TIME: Final = Lock()
"""Alembic keeps the migration it runs in globals of the process."""


def upgrade(database: Database, to: str = "head") -> None:
    """Run the migrations that are missing, all in one transaction.

    Processes that start together run them one after the other, and all but the first
    find nothing to do.

    Raises
    ------
    RecordsUnavailable
        When the database can't be reached.
    ForeignDatabase
        When it holds tables of another program or of a later version; it is left as it is.
    """
    with _ONE_AT_A_TIME, database.connected() as connection:
        if connection.dialect.name == "postgresql":  # SQLite has but one writer anyway
            # A migration may take as long as it takes; nobody waits for its answer.
            connection.execute(text("SET LOCAL statement_timeout = 0"))
            connection.execute(text("SET LOCAL lock_timeout = 0"))
            connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
        _refuse_foreign(connection)
        config = _config()
        config.attributes["connection"] = connection
        command.upgrade(config, to)


@cache
def newest_version() -> str:
    """Name of the newest version of the tables, the one that this code works with."""
    newest = ScriptDirectory.from_config(_config()).get_current_head()
    assert newest is not None  # there is a first migration
    return newest


def _refuse_foreign(connection: Connection) -> None:
    found = MigrationContext.configure(connection).get_current_heads()
    known = {script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()}
    if not set(found) <= known:
        raise ForeignDatabase(
            "the database was written by a later version of the service, or by another program: "
            "run that version, or name another database in SWING_DATABASE_URL"
        )
    if not found and set(inspect(connection).get_table_names()) - {"alembic_version"}:
        raise ForeignDatabase(
            "the database holds tables of another program: name an empty database in "
            "SWING_DATABASE_URL"
        )


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", _MIGRATIONS)
    return config
