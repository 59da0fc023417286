"""The swings of a piece of the archive, each read or with the reason why it can't be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from service.archive.listing import File, Piece
from service.archive.table import rows_of_group
from service.intake.many.errors import MalformedTable, Unreadable
from service.intake.many.files import Kind, lines_of, opened, text_of
from service.intake.many.reading import Origin, Reader, ReadSwing, Refused


@dataclass(frozen=True)
class Reading:
    """How an archive is read."""

    archive: Path
    reader: Reader

    def swings(self, piece: Piece) -> Iterator[ReadSwing | Refused]:
        """Every swing of a piece in its order."""
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
        lines = lines_of(opened(self.archive / piece.path), self.reader.longest, piece.place)
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
