"""The files of an archive, and the pieces of them that are done in one go."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa

from service.archive.table import sizes_of_groups
from service.intake.many.errors import GZIP_FAULTS
from service.intake.many.files import Bytes, Kind, is_utf8, kind_of, opened

_BLOCK: Final[int] = 1 << 22
_NEWLINE: Final[int] = ord("\n")


@dataclass(frozen=True)
class File:
    """A file of the archive; ``path`` is relative to it, with slashes.

    Attributes
    ----------
    size
        In bytes; -1 of what is no ordinary file, which is not read.
    """

    path: str
    size: int
    changed_ns: int

    @property
    def kind(self) -> Kind | None:
        """What it holds, by its name; ``None`` where it is not read."""
        return kind_of(self.path) if is_utf8(self.path) and self.size >= 0 else None

    @property
    def end(self) -> str:
        """How its name ends, to be counted by."""
        if not is_utf8(self.path):
            return "with a name that is no UTF-8"
        if self.size < 0:
            return "that are links to folders or to nothing, or no ordinary files"
        return Path(self.path).suffix.lower() or "without an end"


@dataclass(frozen=True)
class Piece:
    """Part of a file that is done in one go.

    Attributes
    ----------
    first
        Number of its first line or row, from 0; 0 for a file of one swing.
    count
        Lines or rows, empty lines too.
    place
        Byte at which the first line begins, once unpacked; number of the row group of a table, -1
        where the table can't be read.
    """

    path: str
    first: int = 0
    count: int = 1
    place: int = 0


def files_of(archive: Path) -> Iterator[File]:
    """Every file below a folder, in order of names; those that begin with . or _ are left out.

    Links to folders are not followed, so that no file is read twice.
    """
    yield from _files(archive, "")


def _files(folder: Path, prefix: str) -> Iterator[File]:
    with os.scandir(folder) as found:
        entries = sorted(found, key=lambda entry: entry.name)
    for entry in entries:
        if entry.name.startswith((".", "_")):
            continue
        if entry.is_dir(follow_symlinks=False):
            yield from _files(Path(entry.path), f"{prefix}{entry.name}/")
        elif entry.is_file():
            told = entry.stat()
            yield File(f"{prefix}{entry.name}", told.st_size, told.st_mtime_ns)
        else:
            yield File(f"{prefix}{entry.name}", -1, 0)


def others(passed_over: Counter[str]) -> str:
    """Files that are not read, by the ends of their names, in words; empty without any."""
    if not passed_over:
        return ""
    return f"Passed over: {', '.join(f'{count} {end}' for end, count in passed_over.items())}"


def pieces_of(archive: Path, file: File, most: int) -> Iterator[Piece]:
    """A file in pieces of at most ``most`` swings; a table in its row groups, whatever their size.

    A file that can't be read is a piece all the same, so that the reading of it tells why.
    """
    match file.kind:
        case Kind.JSON:
            yield Piece(file.path)
        case Kind.LINES:
            yield from _pieces_of_lines(archive, file, most)
        case Kind.TABLE:
            yield from _row_groups(archive, file)


def _pieces_of_lines(archive: Path, file: File, most: int) -> Iterator[Piece]:
    starts, total = [0], 0
    damaged = False
    try:
        with opened(archive / file.path) as lines:
            total = _count_lines(lines, most, starts)
    except (OSError, *GZIP_FAULTS) as error:
        total, damaged = getattr(error, "lines", 0), True
    if not total and not damaged:
        return
    # Where it breaks off is one more line, which is told as what can't be read.
    total += damaged
    for k, place in enumerate(starts):
        first = k * most
        if first < total:
            yield Piece(file.path, first, min(most, total - first), place)


def _count_lines(lines: Bytes, every: int, starts: list[int]) -> int:
    """How many lines there are; ``starts`` gets the place of each ``every``-th."""
    count = place = 0
    last = b"\n"
    try:
        while block := lines.read1(_BLOCK):
            here = block.count(b"\n")
            if (count + here) // every > count // every:
                ends = np.flatnonzero(np.frombuffer(block, dtype=np.uint8) == _NEWLINE)
                whole = np.arange(count + 1, count + here + 1) % every == 0
                starts += (place + ends[whole] + 1).tolist()
            count += here
            place += len(block)
            last = block[-1:]
    except (OSError, *GZIP_FAULTS) as error:
        error.lines = count  # type: ignore[union-attr] # what was read is good
        raise
    return count + (last != b"\n")


def _row_groups(archive: Path, file: File) -> Iterator[Piece]:
    try:
        counts = sizes_of_groups(archive / file.path)
    except (OSError, pa.ArrowException):
        yield Piece(file.path, place=-1)
        return
    first = 0
    for group, count in enumerate(counts):
        if count:
            yield Piece(file.path, first, count, group)
        first += count
