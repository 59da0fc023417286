"""The swings of a piece of the archive, each read or with the reason why it can't be."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from gzip import GzipFile
from io import BufferedReader
from itertools import islice
from pathlib import Path
from typing import Final

from service.archive.listing import NO_UTF8, SHUT, File, Piece
from service.archive.table import rows_of_group
from service.intake.many.errors import MalformedTable, NoUtf8, ShutFolder, Unreadable
from service.intake.many.files import Bytes, Kind, lines_of, opened, text_of, unpacked
from service.intake.many.reading import Origin, Reader, ReadSwing, Refused

_NOT_OPENED: Final = {SHUT: ShutFolder, NO_UTF8: NoUtf8}


@dataclass(frozen=True)
class Reading:
    """How an archive is read."""

    archive: Path
    reader: Reader

    def swings(self, piece: Piece) -> Iterator[ReadSwing | Refused]:
        """Every swing of a piece in its order."""
        if piece.place in _NOT_OPENED:
            yield Refused(Origin(piece.path), _NOT_OPENED[piece.place]())
            return
        match File(piece.path, 0, 0).kind:
            case Kind.TABLE:
                yield from self._of_table(piece)
            case Kind.LINES:
                yield from self._of_lines(piece)
            case _:
                yield self._of_json(piece)

    def _of_json(self, piece: Piece) -> ReadSwing | Refused:
        origin = Origin(piece.path)
        try:
            text = text_of(opened(self.archive / piece.path), self.reader.longest)
        except ValueError as error:  # it is too long or can't be read
            return Refused(origin, error)
        return self.reader.of_text(origin, text)

    def _of_lines(self, piece: Piece) -> Iterator[ReadSwing | Refused]:
        file = _left_open(self.archive / piece.path)
        with closing(lines_of(file, self.reader.longest, piece.place)) as lines:
            for number, line in enumerate(islice(lines, piece.count), start=piece.first + 1):
                origin = Origin(piece.path, number)
                if isinstance(line, Unreadable):
                    yield Refused(origin, line)
                elif line.strip():
                    yield self.reader.of_text(origin, line)

    def _of_table(self, piece: Piece) -> Iterator[ReadSwing | Refused]:
        try:
            for number, row in enumerate(rows_of_group(self.archive / piece.path, piece.place)):
                origin = row.origin or (piece.path, piece.first + number + 1)
                yield self.reader.of_row(Origin(*origin), row)
        except Exception as error:  # a table that is damaged, in whichever way its library says
            line = piece.first + 1 if piece.place >= 0 else None
            told = MalformedTable(f"can't be read: {error}"[:500])
            yield Refused(Origin(piece.path, line), told)


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
