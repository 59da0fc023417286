"""``python -m service academies create NAME``, ``... list``."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from service.settings import Settings

if TYPE_CHECKING:
    from service.commands import Parsers


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser("academies", help="make and list academies")
    actions = parser.add_subparsers(dest="action", required=True)
    create = actions.add_parser("create", help="make an academy and print its id")
    create.add_argument("name", metavar="NAME")
    actions.add_parser("list", help="print every academy")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Run it."""
    from service.commands.records.opening import opened
    from service.records.access import academies

    with opened(settings, must_exist=options.action != "create") as database:
        if options.action == "create":
            with database.writing() as session:
                print(academies.add(session, options.name).id)
            return
        with database.reading() as session:
            for each in academies.fetch_all(session):
                print(f"{each.id}  {each.created:%Y-%m-%d}  {each.name}")
