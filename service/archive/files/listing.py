"""The files of an archive, and the pieces of them that are done in one go."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import pyarrow as pa

from service.archive.table import sizes_of_groups
from service.intake.many.errors import GZIP_FAULTS
from service.intake.many.files import Kind, end_of, films_among, is_utf8, kind_of, opened
from service.intake.many.frame_files import clips_of, later_frames
from service.languages import sayable

_BLOCK: Final[int] = 1 << 22
_NEWLINE: Final[int] = ord("\n")
_LEAST: Final[int] = 256
"""Bytes that any swing takes; of shorter lines a piece holds more, so that millions of empty lines,
which are soon packed into a small file, are no hundred thousand pieces."""

_PACKED: Final = (".zip", ".7z", ".rar", ".tar", ".tgz")
"""What may hold swings and is not looked into."""

_INODES: Final[int] = 1 << 64
NOT_ORDINARY: Final[int] = -1
SHUT: Final[int] = -2
NO_UTF8: Final[int] = -3


@dataclass(frozen=True)
class File:
    """A file of the archive, or those of a clip's frames together.

    Attributes
    ----------
    path
        Relative to it, with slashes, as the system has it; of a folder that may not be listed
        with one at its end; of a clip in one file a frame that of the first.
    size
        In bytes, of all frames together; ``NOT_ORDINARY`` of what is no ordinary file, which is
        not read, ``SHUT`` of a folder that may not be listed, which is told as what can't be read.
    changed_ns, status_ns, inode
        When its content was changed last, as whoever changed it may say; when it or anything told
        of it was, by the clock of the system, 0 where it tells no such time; and its number there.
    """

    path: str
    size: int
    changed_ns: int = 0
    status_ns: int = 0
    inode: int = 0

    @property
    def kind(self) -> Kind | None:
        """What it holds, by its name; ``None`` where it is not read."""
        if self.size == SHUT:
            return Kind.JSON
        return kind_of(self.path) if self.size >= 0 else None

    @property
    def name(self) -> str:
        """The path as a table can have it: what is no UTF-8 as numbers, such as ``\\xe4``."""
        return os.fsencode(self.path).decode(errors="backslashreplace")

    @property
    def end(self) -> str:
        """How its name ends, to be counted by."""
        if self.size < 0 and is_utf8(self.path):
            return sayable("that are links to folders or to nothing, or no ordinary files")
        return end_of(self.path)


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
        where the table can't be read; ``SHUT`` or ``NO_UTF8`` where nothing is opened.
    """

    path: str
    first: int = 0
    count: int = 1
    place: int = 0


def files_of(archive: Path) -> Iterator[File]:
    """Every file below a folder, in order of names; those that begin with . or _ are left out.

    Links to folders are not followed, so that no file is read twice. A clip in one file a frame is
    one file.
    """
    yield from _files(archive, "")


def _files(folder: Path, prefix: str) -> Iterator[File]:
    try:
        with os.scandir(folder) as found:
            entries = {
                entry.name: entry
                for entry in sorted(found, key=lambda entry: entry.name)
                if not entry.name.startswith((".", "_"))
            }
    except OSError:
        if not prefix:
            raise
        yield File(prefix, SHUT)
        return
    clips = clips_of(name for name, entry in entries.items() if _is_file(entry))
    later = later_frames(clips)
    for name, entry in entries.items():
        path = f"{prefix}{name}"
        if entry.is_dir(follow_symlinks=False):
            yield from _files(Path(entry.path), f"{path}/")
        elif name in clips:
            yield _clip([_file(entries[frame], path) for frame in clips[name]])
        elif name not in later:
            yield _file(entry, path)


def _is_file(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_file()
    except OSError:
        return False


def _clip(frames: list[File]) -> File:
    """The files of a clip's frames as one, which is another once one of them is."""
    return File(
        frames[0].path,
        sum(max(frame.size, 0) for frame in frames),
        max(frame.changed_ns for frame in frames),
        max(frame.status_ns for frame in frames),
        sum(frame.inode for frame in frames) % _INODES,
    )


def _file(entry: os.DirEntry[str], path: str) -> File:
    try:
        if entry.is_file():
            told = entry.stat()
            status_ns = 0 if os.name == "nt" else told.st_ctime_ns  # there it is that of its making
            return File(path, told.st_size, told.st_mtime_ns, status_ns, told.st_ino)
    except PermissionError:
        return File(path, 0)  # the reading of it tells why
    except OSError:  # a link to itself, or gone meanwhile
        pass
    return File(path, NOT_ORDINARY)


def others(passed_over: Mapping[str, int]) -> str:
    """Files that are not read, by the ends of their names, in words; empty without any."""
    if not passed_over:
        return ""
    told = ", ".join(f"{count} {end}" for end, count in passed_over.items())
    packed = ", ".join(end for end in _PACKED if end in passed_over)
    films = films_among(passed_over)
    hints = [f"unpack {packed} first"] if packed else []
    if films:
        counted = "1 film" if films == 1 else f"{films:,} films"
        hints.append(
            f"{counted}: python -m service analyse FOLDER writes what is tagged beside each"
        )
    return f"Passed over: {told}" + (f" ({'; '.join(hints)})" if hints else "")


def pieces_of(archive: Path, file: File, most: int) -> Iterator[Piece]:
    """A file in pieces of ``most`` swings; a table in its row groups, whatever their size.

    A file that can't be read is a piece all the same, so that the reading of it tells why.
    """
    if file.size == SHUT or not is_utf8(file.path):
        yield Piece(file.name, place=SHUT if file.size == SHUT else NO_UTF8)
        return
    match file.kind:
        case Kind.JSON:
            yield Piece(file.path)
        case Kind.LINES:
            yield from _pieces_of_lines(archive, file, most)
        case Kind.TABLE:
            yield from _row_groups(archive, file)


def _pieces_of_lines(archive: Path, file: File, most: int) -> Iterator[Piece]:
    counted = _counted(archive / file.path, most)
    # Where it breaks off is one more line, which is told as what can't be read, and so is a file
    # without any.
    total = max(1, counted.lines + counted.damaged)
    ends = [*(first for first, _ in counted.starts[1:]), total]
    for (first, place), end in zip(counted.starts, ends, strict=True):
        if first < end:
            yield Piece(file.path, first, end - first, place)


@dataclass
class _Counted:
    """A file of lines as far as it could be read: the first line and the place of each piece."""

    starts: list[tuple[int, int]]
    lines: int = 0
    damaged: bool = False


def _counted(path: Path, most: int) -> _Counted:
    counted = _Counted([(0, 0)])
    place, last = 0, b"\n"
    try:
        with opened(path) as lines:
            while block := lines.read1(_BLOCK):
                _cut(counted, block, place, most)
                place, last = place + len(block), block[-1:]
        counted.lines += last != b"\n"
    except (OSError, *GZIP_FAULTS):
        counted.damaged = True
    return counted


def _cut(counted: _Counted, block: bytes, place: int, most: int) -> None:
    """Count the lines that end in a block, and begin a piece wherever one is full."""
    here = block.count(b"\n")
    first, start = counted.starts[-1]
    if counted.lines + here >= first + most:
        newlines = np.flatnonzero(np.frombuffer(block, dtype=np.uint8) == _NEWLINE)
        ends = place + 1 + newlines
        while True:
            enough = int(ends.searchsorted(start + most * _LEAST))
            full = max(first + most - counted.lines - 1, enough)
            if full >= here:
                break
            first, start = counted.lines + full + 1, int(ends[full])
            counted.starts.append((first, start))
    counted.lines += here


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
