"""Parquet files of a folder, where the library for them is there."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from typing import IO, TYPE_CHECKING, cast

from service.intake.many.errors import MalformedTable, Unreadable, UnreadableFile, unreadable
from service.use_cases.batches.sources.folders import Archive

if TYPE_CHECKING:
    from service.archive.table import Row


@contextmanager
def opened(archive: Archive, path: str) -> Iterator[IO[bytes]]:
    """Open a table; whatever the library finds wrong with it meanwhile is told.

    Raises
    ------
    Unreadable
    """
    if find_spec("pyarrow") is None:
        raise UnreadableFile("is Parquet, for which this worker lacks the library (extra archive)")
    try:
        with archive.open(path) as file:
            yield cast(IO[bytes], file)
    except Unreadable:
        raise
    except OSError as error:
        # The library's own errors of damaged files are some of these too, without a number.
        raise (unreadable(error) if error.errno else _damaged(error)) from error
    except Exception as error:
        raise _damaged(error) from error


def sizes_of_groups(file: IO[bytes]) -> list[int]:
    """As :func:`service.archive.table.sizes_of_groups`."""
    from service.archive.table import sizes_of_groups

    return sizes_of_groups(file)


def rows_of_group(file: IO[bytes], group: int, first: int) -> Iterator[Row]:
    """As :func:`service.archive.table.rows_of_group`."""
    from service.archive.table import rows_of_group

    return rows_of_group(file, group, first)


def _damaged(error: Exception) -> MalformedTable:
    return MalformedTable(f"can't be read: {error}"[:500])
