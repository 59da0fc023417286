"""The database that a command works on."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from service.records import Database, RecordsError, RecordsUnavailable, upgrade
from service.records.access import academies
from service.records.access.sessions import Behalf
from service.records.default_academy import DEFAULT_ACADEMY
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


def behalf_of(academy: str, settings: Settings, *, must_exist: bool = False) -> Behalf:
    """On whose behalf a command keeps swings: an academy's, by name or id.

    Raises
    ------
    RecordsError
        When there is no database or no such academy.
    """
    with opened(settings, must_exist=must_exist) as database, database.reading() as session:
        academy_id = academies.find(session, academy).id
    needs_consent = settings.require_consent
    if needs_consent is None:  # as for those who come with a key, and those who come without
        needs_consent = academy_id != DEFAULT_ACADEMY
    return Behalf(academy_id, needs_consent=needs_consent)


@contextmanager
def opened(settings: Settings, *, must_exist: bool = False) -> Iterator[Database]:
    """The database, brought to the tables of this version where the settings say so.

    Parameters
    ----------
    must_exist
        Whether a SQLite file that is not there is refused, as where something is to be read from
        it: a mistyped path is no new, empty database.

    Raises
    ------
    RecordsError
        When there is none, or it can't be used; it says which.
    """
    database = Database(url_of(settings))
    try:
        if must_exist:
            _refuse_missing_file(database)
        if settings.migrate_on_start:
            upgrade(database)
        yield database
    except RecordsUnavailable as error:
        raise RecordsError(f"{database.address}: {error}") from error
    finally:
        database.close()


def _refuse_missing_file(database: Database) -> None:
    if database.file and not Path(database.file).exists():
        raise RecordsError(
            f"there is no database {database.file}: SWING_DATABASE_URL says which to read"
        )
