"""What is to be done with an archive, written down before anything is done.

A plan lists every file and every piece with its partition, and of each partition how it comes
about: it is there already, it is there but for some inputs that go, or it is to be done. What is
done is told by the results themselves: a partition is done when the file of its mark is there.

Every plan is begun as ``next.json``, and its partitions are written beside the tables. Once they
are all there, that file becomes ``plan.json`` in one step, and with it the new results the results;
only then are partitions put in place, and what nobody needs any more is deleted.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any, Final, Self

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from service.archive.errors import Damaged
from service.archive.files.listing import File, Piece
from service.archive.planning.writing import write_whole

PARTITION: Final[int] = 512
"""Swings in a partition, unless told otherwise: some seconds of work, lost at most by a kill."""

PLAN: Final[str] = "_plan"
"""Folder of the plans within the results; readers of tables pass over what begins with _."""
FINISHED: Final[str] = "plan.json"
NEXT: Final[str] = "next.json"
CHANGES: Final[str] = "changes.parquet"
"""Table of the files that were added, changed or gone, in the folder of the plan's tables."""

FILES: Final = pa.schema(
    [
        ("path", pa.string()),
        ("size", pa.int64()),
        ("changed_ns", pa.int64()),
        ("status_ns", pa.int64()),
        ("inode", pa.uint64()),
    ]
)
PIECES: Final = pa.schema(
    [
        ("partition", pa.int64()),
        ("how", pa.string()),
        ("path", pa.string()),
        ("first", pa.int64()),
        ("count", pa.int64()),
        ("place", pa.int64()),
    ]
)


class How(StrEnum):
    """How a partition comes about.

    ``KEPT`` is in place already, ``CUT`` is one in place without the inputs that go, ``NEW`` is to
    be read and tagged.
    """

    KEPT = "kept"
    CUT = "cut"
    NEW = "new"


@dataclass(frozen=True)
class Header:
    """What holds for the whole plan.

    Attributes
    ----------
    name
        Of the results, however often they are brought up to date.
    number
        How many plans there were with this one.
    tables
        Folder of its tables, beside it.
    begun_ms, planned_ms
        When the results and when this plan were begun, milliseconds since 1970.
    inputs, kept
        Lines, rows and files of one swing, empty lines too; and those of them that need no tagging.
    changes
        How many files were added, changed and gone since the results were last complete.
    options
        What the results hang on beside the archive: versions and options of the command.
    passed_over
        How many files are not read, by how their names end.
    gone
        Some of the files that are gone.
    """

    name: str
    number: int
    tables: str
    begun_ms: int
    planned_ms: int
    files: int
    inputs: int
    kept: int
    changes: Mapping[str, int]
    options: Mapping[str, Any]
    passed_over: Mapping[str, int]
    gone: Sequence[str] = ()

    @classmethod
    def read(cls, path: Path) -> Self:
        """As it was written."""
        told = json.loads(path.read_text(encoding="utf-8"))
        if isinstance(told["passed_over"], str):  # in words, as it was told before it was counted
            told["passed_over"] = {}
        return cls(**told)


class Plan:
    """A plan of one folder of results, opened.

    Attributes
    ----------
    is_finished
        Whether it is the one whose results are the results.
    """

    def __init__(self, folder: Path, header: Header, is_finished: bool) -> None:
        self.folder = folder
        self.header = header
        self.is_finished = is_finished
        self.table = pq.read_table(self.tables / "pieces.parquet", memory_map=True)
        self._spans = _spans(self.table["partition"])

    @property
    def tables(self) -> Path:
        """Folder of its tables."""
        return self.folder / PLAN / self.header.tables

    @property
    def aside(self) -> Path:
        """Where its partitions are written until all are there."""
        return self.folder / f"_state-{self.header.number:06d}"

    @property
    def partitions(self) -> Sequence[int]:
        """Numbers of the partitions."""
        return list(self._spans)

    def rows(self, partition: int) -> pa.Table:
        """What one partition is made of, as it is written down."""
        first, count = self._spans[partition]
        return self.table.slice(first, count)

    def pieces(self, partition: int) -> tuple[Piece, ...]:
        """What one partition is made of."""
        return tuple(_piece(row) for row in self.rows(partition).to_pylist())

    def how(self, partition: int) -> How:
        """How one partition comes about."""
        return How(self.table["how"][self._spans[partition][0]].as_py())

    def first_pieces(self, most: int) -> Iterator[Piece]:
        """The first pieces of some files, which lie evenly over the archive."""
        pieces = self.table.filter(pc.equal(self.table["first"], 0))
        every = max(1, -(-pieces.num_rows // most))
        for row in pieces.take(list(range(0, pieces.num_rows, every))).to_pylist():
            yield _piece(row)

    def files(self) -> dict[str, File]:
        """Every file as it was when this was planned, by its name."""
        rows = pq.read_table(self.tables / "files.parquet").to_pylist()
        return {row["path"]: File(**row) for row in rows}


def open_plan(folder: Path, name: str = FINISHED) -> Plan | None:
    """A plan of a folder of results; ``None`` where there is none.

    Raises
    ------
    Damaged
    """
    path = folder / PLAN / name
    if not path.exists():
        return None
    try:
        return Plan(folder, Header.read(path), name == FINISHED)
    except (OSError, ValueError, TypeError, pa.ArrowException) as error:
        raise Damaged(
            f"the plan in {folder / PLAN} is damaged, or of another version of the service "
            f"({error}): tag into another folder"
        ) from error


def write_plan(folder: Path, header: Header) -> Plan:
    """Make a plan, whose tables are there, the one that is worked on."""
    write_whole(folder / PLAN / NEXT, json.dumps(asdict(header), indent=1).encode())
    return Plan(folder, header, is_finished=False)


def is_worked_on(folder: Path, tables: str) -> bool:
    """Whether a plan is still the one that is worked on: a worker may outlive its command."""
    try:
        return Header.read(folder / PLAN / NEXT).tables == tables
    except FileNotFoundError:
        return False


def drop_plan(plan: Plan) -> None:
    """Take a plan back of which nothing was done, so that the next run makes its own."""
    (plan.folder / PLAN / NEXT).unlink()


def finish_plan(plan: Plan) -> None:
    """Make the results of a plan, which are all there, the results: in one step."""
    (plan.folder / PLAN / NEXT).replace(plan.folder / PLAN / FINISHED)


def sweep_plans(folder: Path) -> None:
    """Remove the tables of plans that are no more."""
    kept = {Header.read(path).tables for path in (folder / PLAN).glob("*.json")}
    for each in (folder / PLAN).iterdir():
        if each.is_dir() and each.name not in kept:
            shutil.rmtree(each)


def _piece(row: Mapping[str, Any]) -> Piece:
    return Piece(row["path"], row["first"], row["count"], row["place"])


def _spans(partition: pa.ChunkedArray) -> dict[int, tuple[int, int]]:
    """First row and count of each partition, whose rows stand together, in order of numbers."""
    counts = pc.value_counts(partition)
    spans, first = {}, 0
    for number, count in zip(counts.field(0).to_pylist(), counts.field(1).to_pylist(), strict=True):
        spans[number] = (first, count)
        first += count
    return dict(sorted(spans.items()))
