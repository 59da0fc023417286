"""What became of an archive, counted from the results themselves."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from service.archive.results import parts

_COLUMNS = ("swing_found", "kept_as", "not_kept")


@dataclass(frozen=True)
class Totals:
    """Counts of a folder of results.

    Attributes
    ----------
    swings, found
        Clips that could be read, and those of them in which a golf swing was found.
    refused
        What could not be read, by the code of the problem.
    kept, not_kept
        Swings that are in the service's records, and those that were to be, by the reason.
    """

    swings: int
    found: int
    refused: Counter[str]
    kept: int = 0
    not_kept: Counter[str] = field(default_factory=Counter)


def totals_of(folder: Path) -> Totals:
    """Count what is in a folder of results, finished or not."""
    swings = found = kept = 0
    not_kept: Counter[str] = Counter()
    for table in parts(folder, "swings", _COLUMNS):
        swings += table.num_rows
        found += pc.sum(table["swing_found"]).as_py() or 0
        kept += table.num_rows - table["kept_as"].null_count
        not_kept += counted(table["not_kept"])
    return Totals(swings, found, refused_in(folder, "errors"), kept, not_kept)


def refused_in(folder: Path, table: str) -> Counter[str]:
    """What could not be read, by the code of the problem."""
    refused: Counter[str] = Counter()
    for path in sorted((folder / table).glob("part-*.parquet")):
        refused += counted(pq.read_table(path, columns=["code"])["code"])
    return refused


def converted_in(folder: Path, table: str) -> int:
    """How many swings were written as tables."""
    paths = (folder / table).glob("part-*.parquet")
    return sum(pq.read_metadata(path).num_rows for path in paths)


def counted(column: pa.ChunkedArray) -> Counter[str]:
    """How often each word stands in a column; nulls are not counted."""
    counts = pc.value_counts(column.cast(pa.string()).drop_null())
    return Counter(dict(zip(counts.field(0).to_pylist(), counts.field(1).to_pylist(), strict=True)))
