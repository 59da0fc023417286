"""The swings of a piece of the archive, each read or with the reason why it can't be."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import lru_cache
from gzip import GzipFile
from io import BufferedReader
from itertools import islice
from pathlib import Path
from typing import Final

from service.archive.files.fingerprints import UNREAD, fingerprint, fingerprint_of_group
from service.archive.files.listing import NO_UTF8, SHUT, File, Piece
from service.archive.table import rows_of_group
from service.intake.many.errors import MalformedTable, NoUtf8, ShutFolder, Unreadable
from service.intake.many.files import Bytes, Kind, lines_of, opened, unpacked
from service.intake.many.frame_files import Clips, clips_of, text_of_swing
from service.intake.many.reading import Origin, Reader, ReadSwing, Refused

_NOT_OPENED: Final = {SHUT: ShutFolder, NO_UTF8: NoUtf8}


@dataclass(frozen=True)
class Input:
    """One swing of the archive, or what should be one.

    Attributes
    ----------
    path
        The file that it was read from, which of a converted one is not where it came from.
    first
        Number of its line there, from 0; of a table the first of its row group.
    fingerprint
        Of its content; of a row that of its row group.
    """

    path: str
    first: int
    fingerprint: int
    swing: ReadSwing | Refused


@dataclass(frozen=True)
class Reading:
    """How an archive is read."""

    archive: Path
    reader: Reader

    def swings(self, piece: Piece) -> Iterator[ReadSwing | Refused]:
        """Every swing of a piece in its order."""
        return (each.swing for each in self.inputs(piece))

    def inputs(self, piece: Piece) -> Iterator[Input]:
        """The same, each with its place and its fingerprint."""
        if piece.place in _NOT_OPENED:
            refused = Refused(Origin(piece.path), _NOT_OPENED[piece.place]())
            yield Input(piece.path, piece.first, UNREAD, refused)
            return
        match File(piece.path, 0).kind:
            case Kind.TABLE:
                yield from self._of_table(piece)
            case Kind.LINES:
                yield from self._of_lines(piece)
            case _:
                yield self._of_json(piece)

    def _of_json(self, piece: Piece) -> Input:
        origin = Origin(piece.path)
        try:
            text = text_at(self.archive / piece.path, self.reader.longest)
        except ValueError as error:  # it is too long or can't be read
            return Input(piece.path, 0, UNREAD, Refused(origin, error))
        return Input(piece.path, 0, fingerprint(text), self.reader.of_text(origin, text))

    def _of_lines(self, piece: Piece) -> Iterator[Input]:
        file = _left_open(self.archive / piece.path)
        with closing(lines_of(file, self.reader.longest, piece.place)) as lines:
            for first, line in enumerate(islice(lines, piece.count), start=piece.first):
                origin = Origin(piece.path, first + 1)
                if isinstance(line, Unreadable):
                    yield Input(piece.path, first, UNREAD, Refused(origin, line))
                elif line.strip():
                    seen_as = fingerprint(line.rstrip(b"\n"))
                    yield Input(piece.path, first, seen_as, self.reader.of_text(origin, line))

    def _of_table(self, piece: Piece) -> Iterator[Input]:
        seen_as = fingerprint_of_group(self.archive / piece.path, piece.place)
        for swing in self._rows(piece):
            yield Input(piece.path, piece.first, seen_as, swing)

    def _rows(self, piece: Piece) -> Iterator[ReadSwing | Refused]:
        try:
            for number, row in enumerate(rows_of_group(self.archive / piece.path, piece.place)):
                origin = row.origin or (piece.path, piece.first + number + 1)
                yield self.reader.of_row(Origin(*origin), row)
        except Exception as error:  # a table that is damaged, in whichever way its library says
            line = piece.first + 1 if piece.place >= 0 else None
            told = MalformedTable(f"can't be read: {error}"[:500])
            yield Refused(Origin(piece.path, line), told)


def text_at(path: Path, longest: int) -> bytes:
    """The text of a file of one swing, or of all the frames of the clip of which it is the first.

    Raises
    ------
    TooLarge, MalformedJson, Unreadable
    """
    folder = path.parent
    return text_of_swing(
        path.name,
        lambda: _clips_in(folder, folder.stat().st_mtime_ns),
        lambda name: opened(folder / name),
        longest,
    )


@lru_cache(maxsize=1)
def _clips_in(folder: Path, changed_ns: int) -> Clips:
    """The clips of a folder as it was when it changed last; a piece after another is of the same,
    which may hold thousands."""
    return clips_of(os.listdir(folder))


_Left = tuple[BufferedReader, Bytes]
_LEFT: Final[dict[tuple[Path, int, int], _Left]] = {}
"""Packed files, open where the last piece of them ended, by path, size and time of change."""
_MOST_LEFT: Final[int] = 4


@contextmanager
def _left_open(path: Path) -> Iterator[Bytes]:
    """A file of lines; one that is packed is left open, as its next piece would be looked for from
    its start, which for all pieces of a long file takes longer than to analyse them.

    Whoever reads it has it alone, as threads of one worker may want the same.
    """
    told = path.stat()
    key = (path, told.st_size, told.st_mtime_ns)
    found = _LEFT.pop(key, None)
    plain, file = found or _opened(path)
    try:
        yield file
    except GeneratorExit:  # as the piece ends before the file
        pass
    except BaseException:
        plain.close()
        raise
    if not isinstance(file, GzipFile):
        plain.close()
        return
    for other in list(_LEFT)[_MOST_LEFT - 1 :]:
        _LEFT.pop(other)[0].close()
    _LEFT[key] = plain, file


def _opened(path: Path) -> _Left:
    plain = path.open("rb")
    try:
        return plain, unpacked(plain, path.name)
    except BaseException:
        plain.close()
        raise
