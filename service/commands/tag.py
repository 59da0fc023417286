"""``python -m service tag ARCHIVE --out RESULTS``, ``... --convert FOLDER``."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from service.commands import tagging
from service.records import RecordsError
from service.settings import Settings

if TYPE_CHECKING:
    from service.commands import Parsers


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "tag", help="analyse an archive of swings into tables; run again, it goes on"
    )
    parser.add_argument(
        "archive", metavar="ARCHIVE", type=Path, help="folder of .json, .ndjson and .parquet files"
    )
    where = parser.add_mutually_exclusive_group(required=True)
    where.add_argument("--out", metavar="RESULTS", type=Path, help="folder of the tables")
    where.add_argument(
        "--convert",
        metavar="FOLDER",
        type=Path,
        help="analyse nothing, but write the swings there as Parquet, to be tagged from",
    )
    tagging.add_assumed(parser)
    parser.add_argument(
        "--keep",
        metavar="COLUMN",
        help="keep the swings in the service's records too, each with the player whose name "
        "stands in this column (or client_reference)",
    )
    parser.add_argument("--academy", default="default", help="whose records, by name or id")
    parser.add_argument(
        "--partition",
        type=tagging.count,
        metavar="N",
        help="swings done and written in one go (512)",
    )
    tagging.add_work(parser)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Run it."""
    with tagging.told_as_command():
        if options.convert:
            _convert(options, settings)
        else:
            _tag(options, settings)


def _tag(options: argparse.Namespace, settings: Settings) -> None:
    from service.archive.plan import PARTITION
    from service.commands.opening import behalf_of
    from service.records.access.sessions import Behalf
    from service.use_cases.archive.tag import TagArchive, tag_archive
    from service.use_cases.archive.totals import totals_of

    behalf = behalf_of(options.academy, settings) if options.keep else Behalf()
    wanted = TagArchive(
        options.archive,
        options.out,
        dict(options.assume),
        options.partition or PARTITION,
        options.workers,
        options.scheduler,
        options.keep,
        behalf,
    )
    with tagging.bar() as progress:
        plan = tag_archive(wanted, settings, progress)
    totals = totals_of(options.out)
    print(f"{totals.swings + totals.refused.total():,} inputs in {plan.header.files:,} files")
    print(f"  {totals.swings:,} read; a golf swing found in {totals.found:,}")
    _print_refused(totals.refused, options.out / "errors")
    if options.keep:
        print(f"  {totals.kept:,} kept in the records")
        for reason, count in totals.not_kept.most_common():
            print(f"    {count:,} not kept: {reason.replace('_', ' ')}")
    if plan.header.passed_over:
        print(f"  {plan.header.passed_over}")
    print(f"tables: {options.out}; python -m service summary {options.out} sums them up")


def _convert(options: argparse.Namespace, settings: Settings) -> None:
    from service.archive.plan import PARTITION
    from service.use_cases.archive.convert import CLIPS, ERRORS, convert_archive
    from service.use_cases.archive.tag import TagArchive
    from service.use_cases.archive.totals import converted_in, refused_in

    if options.keep:
        raise RecordsError("--keep goes with --out: a conversion analyses nothing")
    wanted = TagArchive(
        options.archive,
        options.convert,
        dict(options.assume),
        options.partition or PARTITION,
        options.workers,
        options.scheduler,
    )
    with tagging.bar() as progress:
        plan = convert_archive(wanted, settings, progress)
    print(f"{converted_in(options.convert, CLIPS):,} swings of {plan.header.files:,} files written")
    _print_refused(refused_in(options.convert, ERRORS), options.convert / ERRORS)
    if plan.header.passed_over:
        print(f"  {plan.header.passed_over}")
    print(f"python -m service tag {options.convert} --out RESULTS tags them")


def _print_refused(refused: dict[str, int], where: Path) -> None:
    count = sum(refused.values())
    print(f"  {count:,} could not be read{f'; each has a row in {where}' if count else ''}")
    for code, number in sorted(refused.items(), key=lambda each: -each[1]):
        print(f"    {number:,} {code}")
