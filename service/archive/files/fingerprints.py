"""Fingerprints of inputs, and what each input became: what tells later that it is still the same.

A fingerprint is taken by whoever reads the input to tag it, so that it is of what was tagged and of
nothing else. Two are only ever compared at one place of one file, so that eight bytes do: another
content passes for the same once in 10^19 comparisons.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.parquet as pq

SEEN: Final[str] = "_seen"
"""Table of the inputs of each partition, in their order, beside the tables of the results."""
UNREAD: Final[int] = 0
"""Of what could not be read; it equals nothing, so that it is tried again."""

_BYTES: Final[int] = 8


def fingerprint(content: bytes) -> int:
    """Of the text of a swing, unpacked and without the end of its line.

    >>> fingerprint(b"{}") == fingerprint(b"{} ")
    False
    """
    digest = hashlib.sha256(content).digest()[:_BYTES]
    return int.from_bytes(digest, "little", signed=True) or 1


def fingerprint_of_group(path: Path, group: int) -> int:
    """Of a row group of a table, by its bytes; :data:`UNREAD` where they can't be read."""
    try:
        with path.open("rb") as file:
            told = pq.read_metadata(file).row_group(group)
            columns = [told.column(number) for number in range(told.num_columns)]
            first = min(_first_byte(column) for column in columns)
            end = max(_first_byte(column) + column.total_compressed_size for column in columns)
            file.seek(first)
            return fingerprint(file.read(end - first))
    except (OSError, ValueError, IndexError, pa.ArrowException):
        return UNREAD


def _first_byte(column: pq.ColumnChunkMetaData) -> int:
    pages: Sequence[int | None] = (column.dictionary_page_offset, column.data_page_offset)
    return min(page for page in pages if page is not None)


class Seen:
    """The inputs of one partition, and how many rows of each table each became.

    Parameters
    ----------
    tables
        Names of the tables.
    """

    def __init__(self, tables: Sequence[str]) -> None:
        self._tables = tables
        self._columns: dict[str, list[object]] = defaultdict(list)

    def add(self, path: str, first: int, seen_as: int, **rows: int) -> None:
        """Add an input: its file, the number of its line from 0, its fingerprint."""
        told = {"path": path, "first": first, "fingerprint": seen_as}
        for name, value in told.items():
            self._columns[name].append(value)
        for name in self._tables:
            self._columns[name].append(rows.get(name, 0))

    def table(self) -> pa.Table:
        """As a table."""
        schema = pa.schema(
            [
                ("path", pa.dictionary(pa.int32(), pa.string())),
                ("first", pa.int64()),
                ("fingerprint", pa.int64()),
                *((name, pa.int32()) for name in self._tables),
            ]
        )
        arrays = [pa.array(self._columns[field.name], field.type) for field in schema]
        return pa.Table.from_arrays(arrays, schema=schema)
