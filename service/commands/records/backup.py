"""``python -m service backup FILE``, ``python -m service restore FILE``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from service.settings import Settings

if TYPE_CHECKING:
    from service.commands import Parsers


def describe(commands: Parsers) -> None:
    """Add the commands."""
    backup = commands.add_parser("backup", help="write the whole database to a file")
    backup.add_argument("file", metavar="FILE", type=Path)
    backup.set_defaults(run=run_backup)
    restore = commands.add_parser(
        "restore", help="fill the database from a backup, while no service uses it"
    )
    restore.add_argument("file", metavar="FILE", type=Path)
    restore.add_argument(
        "--replace", action="store_true", help="even if the players that it holds are lost"
    )
    restore.set_defaults(run=run_restore)


def run_backup(options: argparse.Namespace, settings: Settings) -> None:
    """Write it."""
    from service.commands.records.opening import url_of
    from service.records.privacy.backup import back_up

    back_up(url_of(settings), options.file)
    print(options.file)


def run_restore(options: argparse.Namespace, settings: Settings) -> None:
    """Read it back."""
    from service.commands.records.opening import url_of
    from service.records.privacy.backup import restore

    restore(url_of(settings), options.file, replace=options.replace)
    print("restored; what was deleted since the backup is back: delete it again")
