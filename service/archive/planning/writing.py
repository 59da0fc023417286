"""Files of a plan: written whole or not at all, by one command at a time."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.parquet as pq

from service.archive.errors import ArchiveError, NotWritten, ResultsInUse

_FLUSH: Final[int] = 50_000


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Keep other commands out of a folder of results; a killed command keeps nobody out.

    Raises
    ------
    ResultsInUse
        When another command is at work there.
    ArchiveError
        When it is a file.
    """
    if folder.exists() and not folder.is_dir():
        raise ArchiveError(f"{folder} is a file, not a folder")
    try:
        import fcntl
    except ImportError:  # no such locks here: partitions are whole all the same
        yield
        return
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / ".lock").open("wb") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise ResultsInUse(f"another command is at work in {folder}") from None
        yield


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole or not at all, whatever happens.

    Raises
    ------
    NotWritten
    """
    aside = path.with_name(f".{path.name}.{os.getpid()}")
    with told_if_not_written(path.parent):
        with aside.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        aside.replace(path)


@contextmanager
def told_if_not_written(folder: Path) -> Iterator[None]:
    """What the system says of a folder that takes no more, as :class:`NotWritten`."""
    try:
        yield
    except OSError as error:
        raise NotWritten.of(folder, error) from error


class TableWriter:
    """Rows to a table, some at a time, so that a long list is never held whole."""

    def __init__(self, path: Path, schema: pa.Schema) -> None:
        self._folder = path.parent
        with told_if_not_written(self._folder):
            self._file = pq.ParquetWriter(path, schema)
        self._schema = schema
        self._rows: list[dict[str, object]] = []
        self.count = 0

    def add(self, row: dict[str, object]) -> None:
        """Add a row."""
        self._rows.append(row)
        self.count += 1
        if len(self._rows) >= _FLUSH:
            self._flush()

    def add_table(self, rows: pa.Table) -> None:
        """Add the rows of a table."""
        self._flush()
        self.count += rows.num_rows
        with told_if_not_written(self._folder):
            self._file.write_table(rows)

    def close(self) -> None:
        """Write the rest."""
        self._flush()
        with told_if_not_written(self._folder):
            self._file.close()

    def _flush(self) -> None:
        with told_if_not_written(self._folder):
            self._file.write_table(pa.Table.from_pylist(self._rows, schema=self._schema))
        self._rows = []
