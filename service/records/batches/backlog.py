"""How much of all academies' batches is still to be done, told without telling them apart."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import func, select

from service.records import _rows
from service.records.batches.entities import OPEN, CallbackState
from service.records.batches.queue import clock
from service.records.batches.tables import BatchItemRow, BatchRow
from service.records.connection.database import Database


@dataclass(frozen=True)
class Backlog:
    """What is still to be done.

    Attributes
    ----------
    waiting, in_hand
        Pieces that nobody has taken, and that a worker is at.
    oldest
        Seconds since the oldest batch that is not over was sent; 0 where all are over.
    callbacks
        Batches that are over and of which somebody is still to be told.
    """

    waiting: int
    in_hand: int
    oldest: float
    callbacks: int


def backlog(database: Database) -> Backlog:
    """Look at the queue.

    Raises
    ------
    RecordsUnavailable
        When the database fails.
    """
    with database.overseeing() as connection:
        pieces = select(func.count()).select_from(BatchItemRow).join(BatchRow).where(_UNDONE)
        free = BatchItemRow.leased_until < clock(connection)
        all_pieces = connection.scalar(pieces) or 0
        waiting = connection.scalar(pieces.where(free)) or 0
        first = connection.scalar(select(func.min(BatchRow.created)).where(_UNDONE))
        to_tell = connection.scalar(
            select(func.count())
            .select_from(BatchRow)
            .where(BatchRow.callback_state == CallbackState.WAITING, ~_UNDONE)
        )
    oldest = 0.0 if first is None else (_rows.now() - first).total_seconds()
    return Backlog(waiting, all_pieces - waiting, max(oldest, 0.0), to_tell or 0)


_UNDONE = BatchRow.state.in_(OPEN)
