"""``python -m service summary RESULTS``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from service.commands.archives import tagging
from service.languages import CODES, language
from service.settings import Settings

if TYPE_CHECKING:
    from service.commands import Parsers


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser("summary", help="print the fault rates of a tagged archive")
    parser.add_argument("results", metavar="RESULTS", type=Path, help="what `tag --out` wrote")
    parser.add_argument(
        "--by",
        metavar="COLUMN",
        help="in groups: view, club or any other column of the swings, or what the archive "
        "carried along, as coach or year",
    )
    parser.add_argument(
        "--html", metavar="FILE", type=Path, help="write a page with charts there too"
    )
    parser.add_argument(
        "--csv",
        metavar="FOLDER",
        type=Path,
        help="write swings, findings, measures and what could not be read there, for a spreadsheet",
    )
    parser.add_argument(
        "--lang",
        "--language",
        dest="language",
        choices=CODES,
        help="language to tell it in; that of SWING_LANGUAGE otherwise",
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Run it."""
    with tagging.told_as_command():
        from service.report.rates.page import rates_page
        from service.report.rates.table import rates_table
        from service.report.rates.words import WHERE_REFUSED
        from service.use_cases.archive.spreadsheets import write_spreadsheets
        from service.use_cases.archive.summarise import summarise

        summary = summarise(options.results, options.by)
        told_in = language(options.language or settings.language)
        written: list[Path] = []
        if options.html:
            name = options.results.resolve().name
            options.html.write_text(rates_page(summary, name, told_in), encoding="utf-8")
            written.append(options.html)
        if options.csv:
            written += write_spreadsheets(options.results, options.csv)
        # Printed last, as whoever reads may stop: `summary ... | head`.
        print(rates_table(summary, told_in), end="")
        if summary.refused and not options.csv:
            print(told_in.say(WHERE_REFUSED))
        for path in written:
            print(path)
