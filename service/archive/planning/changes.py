"""A plan made from a listing: all of an archive at first, later what has changed or is left."""

from __future__ import annotations

import secrets
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.parquet as pq

from service.archive.errors import ChangedArchive, EmptyArchive
from service.archive.files.listing import others
from service.archive.planning.claims import take_over
from service.archive.planning.looking import Base, Found, Wanted, look_through
from service.archive.planning.pieces import Pieces
from service.archive.planning.plan import CHANGES, FILES, PLAN, Header, How, Plan
from service.archive.planning.writing import TableWriter, told_if_not_written

_TOLD: Final[int] = 3
_CHANGES: Final = pa.schema([("path", pa.string()), ("what", pa.string())])


@dataclass(frozen=True)
class Draft:
    """A plan whose tables are written.

    Attributes
    ----------
    stale
        Partitions of which what was written aside for the plan of the base holds no more.
    """

    header: Header
    stale: frozenset[int] = frozenset()


def draft(wanted: Wanted, base: Base | None) -> Draft | None:
    """List an archive and draft the plan for it; ``None`` where that of the base is still right.

    Raises
    ------
    ChangedArchive
        When it is another archive than that of the base.
    EmptyArchive
        When there is nothing in it to read.
    NotWritten
    """
    planned_ms = time.time_ns() // 1_000_000
    tables = secrets.token_hex(4)
    folder = wanted.out / PLAN / tables
    with told_if_not_written(wanted.out / PLAN):
        folder.mkdir(parents=True)
    free = max(base.plan.partitions, default=-1) + 1 if base else 0
    pieces = Pieces(folder / "pieces.parquet", free, wanted.most)
    files = TableWriter(folder / "files.parquet", FILES)
    before = base.plan if base else None
    found = look_through(wanted, before, files, pieces)
    files.close()
    stale: set[int] = set()
    try:
        if not files.count:
            raise EmptyArchive(
                f"{wanted.archive} holds nothing to tag: no file ends in .json, .ndjson, .jsonl "
                f"(each may be gzipped, .gz) or .parquet. {others(found.passed_over)}".rstrip()
            )
        if base:
            _refuse_another(wanted, base.plan, found)
            stale = take_over(wanted, base, found, pieces)
    finally:
        pieces.close()
    is_told = base and base.plan.header.passed_over == found.passed_over
    if base and is_told and base.plan.folder == wanted.out and _is_the_same(base, found):
        return None
    _write_changes(folder / CHANGES, before, found)
    header = _header(wanted, before, found, planned_ms, tables)
    header = replace(header, files=files.count, inputs=pieces.inputs, kept=pieces.kept)
    return Draft(header, frozenset(stale))


def _header(
    wanted: Wanted, before: Plan | None, found: Found, planned_ms: int, tables: str
) -> Header:
    """All of a header but its counts."""
    ours = before.header if before and before.folder == wanted.out else None
    goes_on = ours is not None and before is not None and not before.is_finished
    counts = {"added": found.added, "changed": found.changed, "gone": found.gone}
    earlier, gone = (ours.changes, ours.gone) if ours and goes_on else ({}, ())
    return Header(
        name=ours.name if ours else secrets.token_hex(16),
        number=1 if ours is None else ours.number + (not goes_on),
        tables=tables,
        begun_ms=ours.begun_ms if ours else planned_ms,
        planned_ms=planned_ms,
        files=0,
        inputs=0,
        kept=0,
        changes={what: len(names) + earlier.get(what, 0) for what, names in counts.items()},
        options=wanted.options,
        passed_over=dict(found.passed_over),
        gone=[*gone, *found.gone][:_TOLD],
    )


def _refuse_another(wanted: Wanted, before: Plan, found: Found) -> None:
    if 2 * len(found.gone) <= before.header.files:
        return
    raise ChangedArchive(
        f"the results in {before.folder} are of another archive, or most of it is not there: of "
        f"{before.header.files:,} files {_some(found.gone)} are gone from {wanted.archive}. Tag it "
        "into another folder, or see that all of it can be reached."
    )


def _some(paths: list[str]) -> str:
    more = f" and {len(paths) - _TOLD:,} more" if len(paths) > _TOLD else ""
    return f"{len(paths):,} ({', '.join(paths[:_TOLD])}{more})"


def _is_the_same(base: Base, found: Found) -> bool:
    if found.touched or found.gone or found.added:
        return False
    plan = base.plan
    return all(
        base.how(number) is (How.KEPT if plan.is_finished else plan.how(number))
        for number in plan.partitions
    )


def _write_changes(path: Path, before: Plan | None, found: Found) -> None:
    changes = TableWriter(path, _CHANGES)
    if before and before.folder == path.parents[2] and not before.is_finished:
        changes.add_table(pq.read_table(before.tables / CHANGES))
    named = {"added": found.added, "changed": sorted(found.changed), "gone": found.gone}
    for what, names in named.items():
        for name in names:
            changes.add({"path": name, "what": what})
    changes.close()
