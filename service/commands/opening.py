"""The database that a command works on."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from service.records import Database, RecordsError, upgrade
from service.settings import Settings


def url_of(settings: Settings) -> str:
    """The URL of the database.

    Raises
    ------
    RecordsError
        When the settings name none.
    """
    if not settings.database_url:
        raise RecordsError("SWING_DATABASE_URL is empty: there is no database")
    return settings.database_url


@contextmanager
def opened(settings: Settings) -> Iterator[Database]:
    """The database, brought to the tables of this version where the settings say so.

    Raises
    ------
    RecordsError
        When there is none, or it can't be used.
    """
    database = Database(url_of(settings))
    try:
        if settings.migrate_on_start:
            upgrade(database)
        yield database
    finally:
        database.close()
