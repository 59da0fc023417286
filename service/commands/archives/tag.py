"""``python -m service tag ARCHIVE --out RESULTS``, ``... --convert FOLDER``."""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from service.commands.archives import tagging
from service.commands.complaint import CannotBeDone
from service.settings import Settings

if TYPE_CHECKING:
    from service.archive.planning.plan import Header
    from service.commands import Parsers
    from service.use_cases.archive.totals import Copies, Refusals

_MISSING: Final[str] = "is missing"
_REASONS: Final[int] = 8
"""Reasons told at the end; all are in the table."""


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "tag",
        help="analyse an archive of swings into tables; run again, it does what is left or new",
        description="Analyse an archive of swings into tables. Run again with the same options, "
        "it goes on where it was interrupted, tags what was added or has changed since, keeps the "
        "rest, and takes out what is gone. Results that are complete stay so meanwhile.",
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
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Run it."""
    with tagging.told_as_command():
        if options.convert:
            _convert(options, settings)
        else:
            _tag(options, settings)


def _tag(options: argparse.Namespace, settings: Settings) -> None:
    from service.archive.files.listing import others
    from service.archive.planning.plan import PARTITION
    from service.archive.results import Results
    from service.commands.records.opening import behalf_of
    from service.records.access.sessions import Behalf
    from service.use_cases.archive.tag import TagArchive, tag_archive
    from service.use_cases.archive.totals import copies_in, taken_over_in, totals_of

    if options.keep and options.scheduler and settings.database_url.startswith("sqlite"):
        raise CannotBeDone(
            "--keep with --scheduler takes a database that every machine reaches: set "
            "SWING_DATABASE_URL to PostgreSQL, or leave --scheduler out"
        )
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
    before = _complete(options.out)
    with tagging.bar() as progress:
        plan = tag_archive(wanted, settings, progress)
    results = Results(options.out, plan)
    totals = totals_of(results)
    inputs = totals.swings + sum(each.count for each in totals.refused)
    print(f"{_counted(inputs, 'input')} in {_counted(plan.header.files, 'file')}")
    _print_changes(before, plan.header, taken_over_in(results), inputs)
    print(f"  {totals.swings:,} read; a golf swing found in {totals.found:,}")
    _print_copies(copies_in(results))
    _print_misspelt(totals.carried)
    _print_refused(totals.refused, options.out / "errors")
    if totals.refused:
        print(f"    python -m service summary {options.out} --csv FOLDER writes them to be read")
    if options.keep:
        print(f"  {totals.kept:,} kept in the records")
        for reason, count in totals.not_kept.most_common():
            print(f"    {count:,} not kept: {reason.replace('_', ' ')}")
    if plan.header.passed_over:
        print(f"  {others(plan.header.passed_over)}")
    print(f"tables: {options.out}; python -m service summary {options.out} sums them up")


def _convert(options: argparse.Namespace, settings: Settings) -> None:
    from service.archive.files.listing import others
    from service.archive.planning.plan import PARTITION
    from service.archive.results import Results
    from service.use_cases.archive.convert import CLIPS, ERRORS, convert_archive
    from service.use_cases.archive.tag import TagArchive
    from service.use_cases.archive.totals import converted_in, refused_in, taken_over_in

    if options.keep:
        raise CannotBeDone("--keep goes with --out: a conversion analyses nothing")
    wanted = TagArchive(
        options.archive,
        options.convert,
        dict(options.assume),
        options.partition or PARTITION,
        options.workers,
        options.scheduler,
    )
    before = _complete(options.convert)
    with tagging.bar() as progress:
        plan = convert_archive(wanted, settings, progress)
    results = Results(options.convert, plan)
    swings, refused = converted_in(results, CLIPS), refused_in(results, ERRORS)
    inputs = swings + sum(each.count for each in refused)
    print(f"{_counted(swings, 'swing')} of {_counted(plan.header.files, 'file')} written")
    _print_changes(before, plan.header, taken_over_in(results), inputs)
    _print_refused(refused, options.convert / ERRORS)
    if plan.header.passed_over:
        print(f"  {others(plan.header.passed_over)}")
    print(f"python -m service tag {options.convert} --out RESULTS tags them")


def _complete(folder: Path) -> Header | None:
    """What holds for results that were complete before; ``None`` where there were none."""
    from service.archive.planning.plan import open_plan

    plan = open_plan(folder)
    return plan.header if plan else None


def _print_changes(before: Header | None, header: Header, kept: int, inputs: int) -> None:
    """What became of an archive that was tagged before, so that it adds up to all inputs."""
    if before is None:
        return
    done = inputs - kept
    if before == header or not (done or any(header.changes.values())):
        print("  nothing was added, changed or taken away: all kept from before")
        return
    print(f"  {kept:,} kept from before, {done:,} done now")
    if any(header.changes.values()):
        print(f"  since then {tagging.told_changes(header.changes)}")
    for name in header.gone:
        print(f"    gone: {name}")
    more = header.changes["gone"] - len(header.gone)
    if more > 0:
        print(f"    and {more:,} more")


def _print_copies(copies: Copies | None) -> None:
    if copies is None:
        return
    place = copies.path if copies.line is None else f"{copies.path}:{copies.line}"
    told = f"{copies.count:,} of them, the first {place}, are copies of others before them"
    if copies.count == 1:
        told = f"1 of them, {place}, is a copy of another before it"
    print(f"    {told}, word for word; a summary counts each")


def _print_misspelt(carried: Mapping[str, int]) -> None:
    """What an archive says of its swings may have any name, that of no field among them."""
    from service.analysis.spelling import nearly
    from service.intake.request import SwingRequest

    for name, count in sorted(carried.items()):
        meant = nearly(name, SwingRequest.model_fields)
        if meant:
            carry = f"{count:,} {'carries' if count == 1 else 'carry'} along {name!r}"
            print(f"    {carry}, which is no field of a swing; did you mean {meant}?")


def _counted(count: int, what: str) -> str:
    return f"{count:,} {what}" if count == 1 else f"{count:,} {what}s"


def _print_refused(refused: Sequence[Refusals], where: Path) -> None:
    from service.intake.many.assumed import ASSUMED

    count = sum(each.count for each in refused)
    print(f"  {count:,} could not be read{f'; each has a row in {where}' if count else ''}")
    for each in refused[:_REASONS]:
        place = each.path if each.line is None else f"{each.path}:{each.line}"
        wrong = f"{each.field.strip('/')} {each.message}".strip()
        if not wrong.endswith("?"):
            wrong = f"{wrong.rstrip('.')}."
        # One file can hold most of what can't be read.
        among = f" in {_counted(len(each.files), 'file')}" if len(each.files) < each.count else ""
        told = f"{each.code}{among}, as {place}: {wrong} {each.fix}"
        print(f"    {each.count:,} {told}".rstrip())
    if len(refused) > _REASONS:
        print(f"    and {sum(each.count for each in refused[_REASONS:]):,} for other reasons")
    lacking = Counter[str]()
    for each in refused:
        name = each.field.strip("/")
        if each.message.startswith(_MISSING) and name in ASSUMED:
            lacking[name] += each.count
    if lacking:
        told = ", ".join(f"{count:,} {name}" for name, count in lacking.most_common())
        first = lacking.most_common(1)[0][0]
        print(f"  missing: {told}. Tagged into another folder, --assume {first}=VALUE fills it in")
