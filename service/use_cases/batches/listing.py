"""A folder of the archive listed, as far as it is not yet: items of files, or of files' lines."""

from __future__ import annotations

import gzip
import json
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from service.intake.errors import FieldError, InvalidRequest, TooLarge
from service.records.batches.entities import LINES_AN_ITEM, ItemKind, NewItem
from service.use_cases.batches.folders import Archive, OutsideArchive, has_lines
from service.use_cases.batches.lines import pieces

UNREADABLE: Final = (OSError, EOFError, zlib.error, gzip.BadGzipFile, OutsideArchive, TooLarge)
"""What may be raised on reading a file of the archive."""


def why_unreadable(error: Exception) -> Exception:
    """What is told of a file that can't be read."""
    if isinstance(error, TooLarge):
        return error
    if isinstance(error, gzip.BadGzipFile | EOFError | zlib.error):
        told = FieldError("", "is no gzip, or breaks off", "Copy the file again, or pack it anew.")
    elif isinstance(error, OSError):
        told = FieldError(
            "", f"can't be read: {error.strerror}", "See that the service may read it."
        )
    else:
        told = FieldError("", str(error), "Put the file itself into the archive.")
    return InvalidRequest((told,))


@dataclass(frozen=True)
class Mark:
    """How far a listing is.

    Attributes
    ----------
    path
        The last file of which something is listed; ``None`` at the start.
    lines
        Lines of that file that are listed; 0 where it is listed whole.
    number, line
        Of the next item, and of its first line.
    """

    path: str | None
    lines: int
    number: int
    line: int

    @classmethod
    def read(cls, body: bytes) -> Mark:
        """As it was written."""
        return cls(**json.loads(body))

    def written(self) -> bytes:
        """As JSON text."""
        return json.dumps(vars(self)).encode()


@dataclass(frozen=True)
class Listed:
    """One more item, the swings in it, and how far the listing is with it."""

    item: NewItem
    inputs: int
    mark: Mark


def listed(archive: Archive, folder: str, mark: Mark, longest: int) -> Iterator[Listed]:
    """Items of what a folder holds beyond a mark.

    Raises
    ------
    OutsideArchive, OSError
        When the folder can't be read. A file of lines that can't is told as one line of it.
    """
    whole: list[str] = []
    for path in archive.files(folder):
        if mark.path is not None and _key(path) < _key(mark.path):
            continue
        resumed = mark.lines if path == mark.path else 0
        if path == mark.path and not resumed:
            continue
        if not has_lines(path):
            whole.append(path)
            if len(whole) < LINES_AN_ITEM:
                continue
        if whole:
            some = _of_files(whole, mark)
            yield some
            mark, whole = some.mark, []
        if has_lines(path):
            for some in _of_lines(archive, path, resumed, mark, longest):
                yield some
                mark = some.mark
    if whole:
        yield _of_files(whole, mark)


def _key(path: str) -> list[str]:
    """Files come in the order of the names of their folders, then of their own."""
    return path.split("/")


def _of_files(paths: list[str], mark: Mark) -> Listed:
    item = NewItem(mark.number, ItemKind.FILES, mark.line, json.dumps(paths).encode())
    after = Mark(paths[-1], 0, mark.number + 1, mark.line + len(paths))
    return Listed(item, len(paths), after)


def _of_lines(
    archive: Archive, path: str, skipped: int, mark: Mark, longest: int
) -> Iterator[Listed]:
    last: Listed | None = None
    try:
        with archive.open(path) as file:
            for piece in pieces(file, longest):
                if piece.first <= skipped:
                    continue
                if last is not None:
                    yield last
                    mark = last.mark
                item = NewItem(
                    mark.number, ItemKind.LINES, mark.line, piece.body, path, piece.first
                )
                read = piece.first + piece.n_lines - 1
                after = Mark(path, read, mark.number + 1, mark.line + piece.n_lines)
                last = Listed(item, piece.inputs, after)
    except UNREADABLE:
        if last is not None:
            yield last
            mark = last.mark
        # As a file of one request it is tried once more, and told with the reason.
        yield _of_files([path], mark)
        return
    if last is not None:
        yield replace(last, mark=replace(last.mark, lines=0))
