"""A batch taken in: its lines put into the database, or a folder noted to be listed."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import islice
from typing import IO, Final

from sqlalchemy.orm import Session

from service.intake.errors import TooLarge
from service.intake.many.files import bounded_lines
from service.records import Database, RecordNotFound
from service.records.batches import batches
from service.records.batches.entities import Batch, ItemKind, NewBatch, NewItem
from service.use_cases.batches.sources.lines import Piece, pieces

_PIECES_AT_ONCE: Final[int] = 16
"""Items written in one transaction, so that nobody waits long for it."""

_LEFT_OVER: Final = timedelta(hours=6)
"""Nobody takes so long to put aside one body; what is older was broken off."""

MOST_LINES: Final[int] = 1_000_000
"""Lines of one body, empty ones too: each takes some time, even if it holds nothing."""

Also = Callable[[Session, Batch], None]
"""What else is done in the transaction that makes a batch known."""


def create_batch(
    database: Database, wanted: NewBatch, file: IO[bytes] | None, longest: int, also: Also
) -> Batch:
    """Take in a batch; once this returns, it is done however often whatever breaks down.

    Parameters
    ----------
    file
        Requests as JSON text, one a line; ``None`` where the batch names a folder.
    longest
        Most bytes of a line.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    TooLarge
        When there are more than :data:`MOST_LINES` lines; then nothing is kept.
    """
    with database.writing() as session:
        batch = batches.receive(session, wanted)
    try:
        total = _add_listing(database, batch.id) if file is None else 0
        if file is not None:
            total = _add_lines(database, batch.id, pieces(_counted(file, longest), longest))
        with database.writing() as session:
            opened = batches.open_up(session, batch.id, total)
            also(session, opened)
    except BaseException:
        drop_batch(database, batch.id)
        raise
    return opened


def drop_batch(database: Database, batch_id: str) -> None:
    """Delete a batch with all that was sent and found, if it is there."""
    try:
        with database.writing() as session:
            batches.delete(session, batch_id)
    except RecordNotFound:
        return
    database.forget_deleted()


def drop_left_over(database: Database) -> None:
    """Delete what a process left that was killed while it took in a batch."""
    before = datetime.now(UTC) - _LEFT_OVER
    with database.reading() as session:
        found = batches.left_over(session, before)
    for batch_id in found:
        drop_batch(database, batch_id)


def _add_listing(database: Database, batch_id: str) -> int:
    start = json.dumps({"path": None, "lines": 0, "number": 0, "line": 1}).encode()
    with database.writing() as session:
        batches.add_items(session, batch_id, [NewItem(-1, ItemKind.LISTING, 0, start)])
    return 0


def _counted(file: IO[bytes], longest: int) -> Iterator[bytes]:
    for number, line in enumerate(bounded_lines(file, longest), start=1):
        if number > MOST_LINES:
            raise TooLarge(f"There are more than {MOST_LINES} lines. Send the rest in another.")
        yield line


def _add_lines(database: Database, batch_id: str, found: Iterator[Piece]) -> int:
    total = number = 0
    while some := list(islice(found, _PIECES_AT_ONCE)):
        items = [
            NewItem(number + k, ItemKind.LINES, piece.first, piece.body)
            for k, piece in enumerate(some)
        ]
        number += len(items)
        total += sum(piece.inputs for piece in some)
        with database.writing() as session:
            batches.add_items(session, batch_id, items)
    return total
