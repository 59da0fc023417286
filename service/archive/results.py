"""A folder of results: partitions written whole or not at all, and read again one by one."""

from __future__ import annotations

import os
import re
import uuid
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.parquet as pq

from service.archive.errors import Damaged, NoResults, NotWritten
from service.archive.plan import Plan, open_plan
from service.archive.schemas import RESULTS

PLAN: Final[str] = "_plan"
"""Folder of the plan within the results; readers of tables pass over what begins with _."""

_PART: Final = re.compile(r"part-(\d+)\.parquet")
_MARK: Final[str] = "swings"


def part(folder: Path, table: str, number: int) -> Path:
    """The file of one partition of one table."""
    return folder / table / f"part-{number:06d}.parquet"


def done(folder: Path, mark: str = _MARK) -> set[int]:
    """Numbers of the partitions that are done."""
    try:
        names = os.listdir(folder / mark)
    except FileNotFoundError:
        return set()
    found = (_PART.fullmatch(name) for name in names)
    return {int(match[1]) for match in found if match}


def write_part(folder: Path, number: int, tables: Mapping[str, pa.Table]) -> None:
    """Write one partition; it counts as done once the last of its tables is there.

    Each file is written beside its place and renamed, so that it is there whole or not at all; of
    two workers that did the same partition the last one's files stay, which say the same.

    Raises
    ------
    NotWritten
    """
    for name, table in tables.items():
        path = part(folder, name, number)
        aside = path.with_name(f".{path.name}.{uuid.uuid4().hex}")
        try:
            _write(table, aside)
            aside.replace(path)
        except OSError as error:
            aside.unlink(missing_ok=True)
            raise NotWritten.of(folder, error) from error


def _write(table: pa.Table, path: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        # A page that is damaged later on is told, not read as other numbers.
        pq.write_table(table, file, compression="zstd", write_page_checksum=True)
        file.flush()
        os.fsync(file.fileno())


def sweep(folder: Path) -> None:
    """Remove what killed workers left half written."""
    for path in folder.glob("*/.part-*"):
        path.unlink(missing_ok=True)


def finished_plan(folder: Path) -> Plan:
    """The plan of results that are complete.

    Raises
    ------
    NoResults
        When the folder holds none, or unfinished ones.
    """
    plan = open_plan(folder / PLAN)
    if plan is None:
        raise NoResults(
            f"{folder} holds no results; python -m service tag ARCHIVE --out makes them"
        )
    if "model" not in plan.header.options:
        raise NoResults(
            f"{folder} holds an archive that was converted; python -m service tag {folder} --out "
            "RESULTS tags it"
        )
    open_ones = plan.header.partitions - len(done(folder))
    if open_ones:
        raise NoResults(
            f"{open_ones} of {plan.header.partitions} partitions of {folder} are still to be done; "
            "run the command that began it again, and it goes on"
        )
    return plan


def parts(folder: Path, table: str, columns: Sequence[str] | None = None) -> Iterator[pa.Table]:
    """A table of the results, one partition after the other."""
    for number in sorted(done(folder)):
        yield read_part(folder, table, number, columns)


def read_part(
    folder: Path, table: str, number: int, columns: Sequence[str] | None = None
) -> pa.Table:
    """One partition of a table of the results.

    Raises
    ------
    Damaged
    """
    schema = RESULTS[table]
    names = schema.names if columns is None else [*columns]
    kept = pa.schema([schema.field(name) for name in names])
    path = part(folder, table, number)
    try:
        with pq.ParquetFile(path, page_checksum_verification=True) as file:
            # Words come back as the schema has them, whichever way the file keeps them.
            return file.read(names, use_threads=False).select(names).cast(kept)
    except (OSError, KeyError, pa.ArrowException) as error:
        raise Damaged(
            f"{path} is damaged or gone ({error}). Delete {part(folder, _MARK, number)} and run "
            "the command that began the results again: it does that part anew"
        ) from error
