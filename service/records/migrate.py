"""Bring a database to the tables of this version."""

from __future__ import annotations

from threading import Lock
from typing import Final

from alembic import command
from alembic.config import Config
from sqlalchemy import text

from service.records.database import Database

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
    """
    with _ONE_AT_A_TIME, database.connected() as connection:
        if connection.dialect.name == "postgresql":  # SQLite has but one writer anyway
            connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
        config = Config()
        config.set_main_option("script_location", _MIGRATIONS)
        config.attributes["connection"] = connection
        command.upgrade(config, to)
