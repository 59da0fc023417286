"""``python -m service summary RESULTS``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from service.commands import tagging
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


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Run it."""
    with tagging.told_as_command():
        from service.report.rates import rates_page, rates_table
        from service.use_cases.archive.summarise import summarise

        summary = summarise(options.results, options.by)
        print(rates_table(summary), end="")
        if options.html:
            title = f"Fault rates of {options.results.resolve().name}"
            options.html.write_text(rates_page(summary, title), encoding="utf-8")
            print(options.html)
