"""Whom to tell that a batch is over: who is due, and what became of it."""

from __future__ import annotations

from typing import Final

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from service.records.batches import batches
from service.records.batches.entities import Batch, CallbackState, CallbackTry
from service.records.batches.queue import clock
from service.records.batches.tables import BatchRow

MOST_TRIES: Final[int] = 9
"""Tries in all: with the pauses below, over some 61 hours."""

_FIRST_PAUSE: Final[float] = 10.0
_GROWTH: Final[float] = 4.0
_WHILE_TRYING: Final[float] = 60.0
"""Seconds for which nobody else tries."""


def pause_after(tries: int) -> float:
    """Seconds until the next try.

    >>> [pause_after(tries) for tries in (1, 2, 3)]
    [10.0, 40.0, 160.0]
    """
    return float(_FIRST_PAUSE * _GROWTH ** (tries - 1))


def take_due(session: Session) -> Batch | None:
    """A batch of which somebody is to be told now, and of which nobody else tells meanwhile."""
    query = (
        select(BatchRow)
        .where(
            BatchRow.callback_state == CallbackState.WAITING,
            BatchRow.callback_due <= clock(session),
        )
        .order_by(BatchRow.callback_due)
        .limit(1)
        .with_for_update(skip_locked=True)
    )
    row = session.scalars(query).first()
    if row is None:
        return None
    row.callback_tries += 1
    session.flush()
    _set_due(session, row.id, _WHILE_TRYING)
    return batches.to_batch(row)


def is_due(session: Session) -> bool:
    """Whether somebody is to be told now."""
    query = select(BatchRow.id).where(
        BatchRow.callback_state == CallbackState.WAITING, BatchRow.callback_due <= clock(session)
    )
    return session.scalar(query.limit(1)) is not None


def note(session: Session, batch: Batch, told: CallbackTry) -> None:
    """Note what became of a try; one that failed is tried again later, but not for ever."""
    row = session.get(BatchRow, batch.id, with_for_update=True)
    if row is None or row.callback_state != CallbackState.WAITING:
        return
    row.callback_tried, row.callback_status = told.at, told.status
    row.callback_problem = told.problem
    if told.problem is None:
        row.callback_state = CallbackState.DELIVERED
    elif row.callback_tries >= MOST_TRIES:
        row.callback_state = CallbackState.GIVEN_UP
    else:
        session.flush()
        _set_due(session, row.id, pause_after(row.callback_tries))


def _set_due(session: Session, batch_id: str, seconds: float) -> None:
    session.execute(
        update(BatchRow)
        .where(BatchRow.id == batch_id)
        .values(callback_due=clock(session) + seconds)
        .execution_options(synchronize_session=False)
    )
