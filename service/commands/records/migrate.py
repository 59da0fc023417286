"""``python -m service migrate``."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from service.commands.complaint import CannotBeDone
from service.settings import Settings

if TYPE_CHECKING:
    from service.commands import Parsers


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser("migrate", help="bring the database to the tables of this version")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Make the tables, or bring them up to date."""
    from service.records import Database, RecordsError, upgrade

    if not settings.database_url:
        raise CannotBeDone("SWING_DATABASE_URL is empty: there is no database to migrate")
    database = Database(settings.database_url)
    try:
        upgrade(database)
    except RecordsError as error:
        raise CannotBeDone(f"can't migrate {database.address}: {error}") from error
    finally:
        database.close()
