"""The pieces of a plan as they are written down."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc

from service.archive.files.listing import Piece
from service.archive.planning.plan import PIECES, How
from service.archive.planning.writing import TableWriter


class Pieces:
    """Pieces written down: new ones put into partitions, others with their own."""

    def __init__(self, path: Path, number: int, most: int) -> None:
        self._writer, self._most = TableWriter(path, PIECES), most
        self._number, self._held = number, 0
        self._whole: list[pa.Table] = []
        self.inputs = self.kept = 0

    def add_new(self, piece: Piece) -> None:
        """Add a piece to the newest partition, or to one more where that is full."""
        if self._held and self._held + piece.count > self._most:
            self._number, self._held = self._number + 1, 0
        self._held += piece.count
        self.add(self._number, How.NEW, piece)

    def add(self, number: int, how: How, piece: Piece) -> None:
        """Add a piece to a partition."""
        self._writer.add({"partition": number, "how": how.value, **asdict(piece)})
        self._count(how, piece.count)

    def add_whole(self, how: How, rows: pa.Table) -> None:
        """Add a partition as another plan has it."""
        at = PIECES.get_field_index("how")
        words = pa.array([how.value] * rows.num_rows, pa.string())
        self._whole.append(rows.set_column(at, "how", words))
        self._count(how, pc.sum(rows["count"]).as_py())

    def close(self) -> None:
        """Write what is held."""
        if self._whole:
            self._writer.add_table(pa.concat_tables(self._whole))
        self._writer.close()

    def _count(self, how: How, inputs: int) -> None:
        self.inputs += inputs
        self.kept += 0 if how is How.NEW else inputs
