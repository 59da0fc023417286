"""Bring a database to the tables of this version."""

from __future__ import annotations

from functools import cache
from threading import Lock
from typing import Final

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect, select, text

from service.records.connection.database import Database
from service.records.errors import ForeignDatabase
from service.records.tables import CompatibilityRow

_MIGRATIONS: Final[str] = "service.records:migrations"
_LOCK: Final[int] = 0x5377_696E_67  # any number that nothing else in the database locks

_ONE_AT_A_TIME: Final = Lock()
"""Alembic keeps the migration it runs in globals of the process."""


def upgrade(database: Database, to: str = "head") -> None:
    """Run the migrations that are missing, all in one transaction.

    Processes that start together run them one after the other, and all but the first
    find nothing to do. A database that a later version has brought on is left as it is where
    that version says that this one can work with it.

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
        found = _refuse_foreign(connection)
        if found and not found <= known_versions():
            return
        config = _config()
        config.attributes["connection"] = connection
        command.upgrade(config, to)


@cache
def newest_version() -> str:
    """Name of the newest version of the tables, the one that this code works with."""
    newest = ScriptDirectory.from_config(_config()).get_current_head()
    assert newest is not None  # there is a first migration
    return newest


@cache
def known_versions() -> frozenset[str]:
    """Names of every version of the tables that this code has heard of."""
    scripts = ScriptDirectory.from_config(_config()).walk_revisions()
    return frozenset(script.revision for script in scripts)


def is_compatible(connection: Connection) -> bool:
    """Whether a database of a later version says that this version's code can work with it."""
    if not inspect(connection).has_table(CompatibilityRow.__tablename__):
        return False
    oldest = connection.scalars(select(CompatibilityRow.oldest)).all()
    return bool(oldest) and known_versions().issuperset(oldest)


def _refuse_foreign(connection: Connection) -> frozenset[str]:
    """The versions of the tables that are there."""
    found = frozenset(MigrationContext.configure(connection).get_current_heads())
    if not found <= known_versions() and not is_compatible(connection):
        raise ForeignDatabase(
            "the database was written by a later version of the service, or by another program: "
            "run that version, or name another database in SWING_DATABASE_URL"
        )
    if not found and set(inspect(connection).get_table_names()) - {"alembic_version"}:
        raise ForeignDatabase(
            "the database holds tables of another program: name an empty database in "
            "SWING_DATABASE_URL"
        )
    return found


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", _MIGRATIONS)
    return config
