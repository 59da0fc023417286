"""A folder of the archive listed, as far as it is not yet: items of files, or of files' lines."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

from service.intake.many.errors import Unreadable
from service.intake.many.files import Kind, is_utf8, kind_of, lines_of
from service.records.batches.entities import LINES_AN_ITEM, ItemKind, NewItem
from service.use_cases.batches.sources import tables
from service.use_cases.batches.sources.folders import Archive, is_shut
from service.use_cases.batches.sources.lines import pieces


@dataclass(frozen=True)
class Mark:
    """How far a listing is.

    Attributes
    ----------
    path
        The last file of which something is listed; ``None`` at the start.
    lines
        Lines or rows of that file that are listed; 0 where it is listed whole.
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


def listed(
    archive: Archive, folder: str, mark: Mark, longest: int, passed_over: Counter[str]
) -> Iterator[Listed]:
    """Items of what a folder holds beyond a mark.

    Parameters
    ----------
    passed_over
        Counts what is passed over of the whole folder, before the mark too.

    Raises
    ------
    OutsideArchive, OSError
        When the folder can't be read. A file that can't be, or breaks off, is told as a line of it.
    """
    whole: list[str] = []
    for path in archive.files(folder, passed_over):
        if mark.path is not None and _key(path) < _key(mark.path):
            continue
        resumed = mark.lines if path == mark.path else 0
        if path == mark.path and not resumed:
            continue
        kind = kind_of(path) if is_utf8(path) and not is_shut(path) else Kind.JSON  # tells why
        if kind is Kind.JSON:
            whole.append(path)
            if len(whole) < LINES_AN_ITEM:
                continue
        if whole:
            some = _of_files(whole, mark)
            yield some
            mark, whole = some.mark, []
        if kind is Kind.JSON:
            continue
        parts = _lines(archive, path, longest) if kind is Kind.LINES else _rows(archive, path)
        for some in _of_parts(parts, path, resumed, mark):
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


@dataclass(frozen=True)
class _Part:
    """Some lines or rows of a file; the first is counted from 1."""

    kind: ItemKind
    first: int
    n_lines: int
    inputs: int
    body: bytes


def _of_parts(parts: Iterator[_Part], path: str, skipped: int, mark: Mark) -> Iterator[Listed]:
    last: Listed | None = None
    for part in parts:
        if part.first <= skipped:
            continue
        if last is not None:
            yield last
            mark = last.mark
        item = NewItem(mark.number, part.kind, mark.line, part.body, path, part.first)
        read = part.first + part.n_lines - 1
        after = Mark(path, read, mark.number + 1, mark.line + part.n_lines)
        last = Listed(item, part.inputs, after)
    if last is not None:
        yield replace(last, mark=replace(last.mark, lines=0))


def _lines(archive: Archive, path: str, longest: int) -> Iterator[_Part]:
    for piece in pieces(lines_of(archive.open(path), longest), longest):
        yield _Part(ItemKind.LINES, piece.first, piece.n_lines, piece.inputs, piece.body)


def _rows(archive: Archive, path: str) -> Iterator[_Part]:
    before = 0
    try:
        with tables.opened(archive, path) as file:
            sizes = tables.sizes_of_groups(file)
    except Unreadable as error:
        for piece in pieces([error], 0):
            yield _Part(ItemKind.LINES, piece.first, piece.n_lines, piece.inputs, piece.body)
        return
    for group, size in enumerate(sizes):
        for first in range(0, size, LINES_AN_ITEM):
            count = min(LINES_AN_ITEM, size - first)
            body = json.dumps({"group": group, "first": first, "count": count}).encode()
            yield _Part(ItemKind.ROWS, before + first + 1, count, count, body)
        before += size
