"""``python -m service retag RESULTS ARCHIVE --out NEW``, ``python -m service retag --kept``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from service.commands.archives import tagging
from service.commands.complaint import CannotBeDone
from service.settings import Settings

if TYPE_CHECKING:
    from service.commands import Parsers


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "retag", help="analyse an archive or kept swings with the present model; both are kept"
    )
    parser.add_argument("results", metavar="RESULTS", type=Path, nargs="?", help="earlier results")
    parser.add_argument("archive", metavar="ARCHIVE", type=Path, nargs="?", help="their archive")
    parser.add_argument("--out", metavar="NEW", type=Path, help="folder of the new tables")
    parser.add_argument(
        "--kept",
        action="store_true",
        help="the swings in the service's records instead; each gets one more analysis",
    )
    parser.add_argument("--player", metavar="ID", help="with --kept: only those of one player")
    parser.add_argument(
        "--academy", default="default", help="with --kept: whose records, by name or id"
    )
    tagging.add_work(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Run it."""
    folders = (options.results, options.archive, options.out)
    if options.kept and any(folders):
        raise CannotBeDone("--kept stands alone: the swings are in the records")
    if not options.kept and not all(folders):
        raise CannotBeDone("give RESULTS, ARCHIVE and --out NEW; or --kept for kept swings")
    with tagging.told_as_command():
        if options.kept:
            _kept(options, settings)
        else:
            _results(options, settings)


def _results(options: argparse.Namespace, settings: Settings) -> None:
    from service.report.retold import changes_table
    from service.use_cases.archive.retag import retag_results

    with tagging.bar() as progress:
        anew = retag_results(
            options.results,
            options.archive,
            options.out,
            options.workers,
            options.scheduler,
            settings,
            progress,
        )
    print(changes_table(anew.changes), end="")
    if any(anew.files.values()):
        print(f"not compared, as they are not as they were: {tagging.told_changes(anew.files)}")
    print(f"\nboth are kept: {options.results}, {options.out}")


def _kept(options: argparse.Namespace, settings: Settings) -> None:
    from service.commands.records.opening import behalf_of, opened
    from service.records import SwingFilter
    from service.records.keeping import players
    from service.report.retold import changes_table
    from service.use_cases.analyse import Analyser
    from service.use_cases.archive.retag import retag_kept

    behalf = behalf_of(options.academy, settings, must_exist=True)
    with opened(settings) as database, tagging.bar() as progress:
        if options.player:
            with database.on_behalf(behalf).reading() as session:
                players.get(session, options.player)  # or it says that there is none
        wanted = SwingFilter(player_id=options.player)
        analyser = Analyser.of(settings)
        anew = retag_kept(database.on_behalf(behalf), analyser, wanted, progress)
    print(f"{anew.analysed:,} analysed anew, {anew.up_to_date:,} were up to date")
    if anew.left_alone:
        print(f"{anew.left_alone:,} left alone: deleted meanwhile, or without consent")
    print(changes_table(anew.changes), end="")
