"""A folder of results: partitions written whole or not at all, and read again one by one."""

from __future__ import annotations

import os
import re
import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from service.archive.errors import Damaged, NoResults, NotWritten
from service.archive.files.fingerprints import SEEN
from service.archive.files.listing import Piece
from service.archive.planning.plan import NEXT, Plan, open_plan
from service.archive.schemas import RESULTS

MARK: Final[str] = "swings"
"""Table that is written last: a partition is done when it is there."""

_PART: Final = re.compile(r"part-(\d+)\.parquet")


def part(folder: Path, table: str, number: int) -> Path:
    """The file of one partition of one table."""
    return folder / table / f"part-{number:06d}.parquet"


def done(folder: Path, mark: str = MARK) -> set[int]:
    """Numbers of the partitions that are there."""
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


def cut_part(
    source: Path, folder: Path, number: int, pieces: Sequence[Piece], tables: Sequence[str]
) -> None:
    """Write a partition that was tagged before without the inputs that are in no piece any more.

    Parameters
    ----------
    source
        The folder in whose place the whole partition is.
    tables
        Their names, the mark last.

    Raises
    ------
    Damaged, NotWritten
    """
    seen = read_whole(source, SEEN, number)
    stays = _are_in(seen, pieces)
    left: dict[str, pa.Table] = {}
    for name in tables:
        table = read_whole(source, name, number)
        left[name] = table.filter(pa.array(np.repeat(stays, seen[name].to_numpy())))
    *others, mark = tables
    tables_left = {name: left[name] for name in others} | {SEEN: seen.filter(pa.array(stays))}
    write_part(folder, number, tables_left | {mark: left[mark]})


def _are_in(seen: pa.Table, pieces: Sequence[Piece]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    spans: dict[str, list[range]] = {}
    for piece in pieces:
        spans.setdefault(piece.path, []).append(range(piece.first, piece.first + piece.count))
    places = zip(seen["path"].to_pylist(), seen["first"].to_pylist(), strict=True)
    return np.array([any(first in s for s in spans.get(path, ())) for path, first in places], bool)


def read_whole(folder: Path, table: str, number: int) -> pa.Table:
    """One partition as it was written.

    Raises
    ------
    Damaged
    """
    return read_file(part(folder, table, number))


def read_file(path: Path, columns: Sequence[str] | None = None) -> pa.Table:
    """The file of one partition as it was written, or some of its columns.

    Raises
    ------
    Damaged
    """
    try:
        with pq.ParquetFile(path, page_checksum_verification=True) as file:
            return file.read(columns and [*columns], use_threads=False)
    except (OSError, pa.ArrowException) as error:
        raise Damaged(f"{path} is damaged or gone ({error}): tag into another folder") from error


@dataclass(frozen=True)
class Results:
    """Results that are complete, and stay so while they are brought up to date."""

    folder: Path
    plan: Plan

    def parts(self, table: str, columns: Sequence[str] | None = None) -> Iterator[pa.Table]:
        """A table, one partition after the other."""
        for number in self.plan.partitions:
            yield self.read(table, number, columns)

    def files(self, table: str) -> Iterator[Path]:
        """Files of a table, one a partition."""
        return (self.part(table, number) for number in self.plan.partitions)

    def part(self, table: str, number: int) -> Path:
        """Where a partition of a table is: aside, while it is put in place, or there."""
        aside = part(self.plan.aside, table, number)
        return aside if aside.exists() else part(self.folder, table, number)

    def read(self, table: str, number: int, columns: Sequence[str] | None = None) -> pa.Table:
        """One partition of a table.

        Raises
        ------
        Damaged
        """
        schema = RESULTS[table]
        names = schema.names if columns is None else [*columns]
        kept = pa.schema([schema.field(name) for name in names])
        path = self.part(table, number)
        try:
            with pq.ParquetFile(path, page_checksum_verification=True) as file:
                # Words come back as the schema has them, whichever way the file keeps them.
                return file.read(names, use_threads=False).select(names).cast(kept)
        except (OSError, KeyError, pa.ArrowException) as error:
            raise self._why(path, number, error) from error

    def _why(self, path: Path, number: int, error: Exception) -> NoResults | Damaged:
        now = open_plan(self.folder)
        if now is None or now.header != self.plan.header:
            return NoResults(f"{self.folder} was brought up to date meanwhile: run this again")
        return Damaged(
            f"{path} is damaged or gone ({error}). Delete {self.part(MARK, number)} and run "
            "the command that began the results again: it does that part anew"
        )


def finished_results(folder: Path) -> Results:
    """Results that are complete.

    Raises
    ------
    NoResults
        When the folder holds none, or none that were ever complete.
    """
    plan = open_plan(folder)
    begun = plan or open_plan(folder, NEXT)
    if begun is None:
        raise NoResults(
            f"{folder} holds no results; python -m service tag ARCHIVE --out makes them"
        )
    if "model" not in begun.header.options:
        raise NoResults(
            f"{folder} holds an archive that was converted; python -m service tag {folder} --out "
            "RESULTS tags it"
        )
    if plan is None:
        ready, count = len(done(begun.aside)), len(begun.partitions)
        raise NoResults(
            f"{count - ready} of {count} partitions of {folder} are still to be done; "
            "run the command that began it again, and it goes on"
        )
    results = Results(folder, plan)
    lost = [n for n in plan.partitions if not results.part(MARK, n).exists()]
    if lost:
        raise NoResults(
            f"{len(lost)} of {len(plan.partitions)} partitions of {folder} are gone; run the "
            "command that began it again: it does them anew"
        )
    return results
