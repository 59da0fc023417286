"""The queue: items are taken for a while, and go out in the transaction in which results come in.

On PostgreSQL many take at once, each what nobody else is about to take (``FOR UPDATE SKIP
LOCKED``); on SQLite one transaction writes at a time.
"""

from __future__ import annotations

import gzip
import json
import time
from collections.abc import Iterable, Mapping
from typing import TypeVar

from sqlalchemy import (
    ColumnElement,
    Connection,
    CursorResult,
    Double,
    Select,
    cast,
    func,
    literal,
    select,
    update,
)
from sqlalchemy.orm import Session

from service.records import _rows
from service.records.batches import batches
from service.records.batches.entities import (
    OPEN,
    BatchState,
    ItemKind,
    LeasedItem,
    NewItem,
    Results,
)
from service.records.batches.tables import BatchItemRow, BatchResultRow, BatchRow
from service.records.identity import new_id

T = TypeVar("T")


class LeaseLost(Exception):
    """The item is somebody else's by now, or its batch is over; what was done is not kept."""


def is_there_work(session: Session) -> bool:
    """Whether there is an item to take."""
    return session.scalar(_free(session, select(BatchItemRow.number)).limit(1)) is not None


def take(session: Session, worker: str, lease: float) -> LeasedItem | None:
    """Take the next item for some seconds; ``None`` where there is none.

    Of several batches that with the fewest items behind it goes first, so that a small one does
    not wait for a large one.

    Parameters
    ----------
    worker
        Who takes it.
    lease
        Seconds after which another may take it.
    """
    query = _free(session, select(BatchItemRow))
    query = query.order_by(BatchItemRow.number, BatchItemRow.batch_id)
    row = session.scalars(query.limit(1).with_for_update(of=BatchItemRow, skip_locked=True)).first()
    if row is None:
        return None
    taken = LeasedItem(
        number=row.number,
        kind=ItemKind(row.kind),
        first_line=row.first_line,
        body=gzip.decompress(row.body),
        path=row.path,
        first_in_file=row.first_in_file,
        batch_id=row.batch_id,
        leased_by=f"{worker} {new_id()}"[:64],
        attempts=row.attempts + 1,
    )
    _lease(session, row, taken.leased_by, lease, attempts=taken.attempts)
    return taken


def note_begun(session: Session, batch_id: str) -> None:
    """Note that somebody works at a batch."""
    row = session.get(BatchRow, batch_id, with_for_update=True)
    if row is not None and row.started is None and row.state in OPEN:
        row.started = _rows.now()
        if row.state == BatchState.WAITING:
            row.state = BatchState.RUNNING


def put_back(session: Session, item: LeasedItem) -> None:
    """Let others take an item that could not be done, as the worker stops."""
    session.execute(
        update(BatchItemRow)
        .where(*_same(item))
        .values(leased_until=0.0, leased_by=None, attempts=item.attempts - 1)
    )


def renew(session: Session, item: LeasedItem, lease: float) -> bool:
    """Keep an item for some more seconds; whether it was still this worker's."""
    renewed = session.execute(
        update(BatchItemRow).where(*_same(item)).values(leased_until=clock(session) + lease)
    )
    assert isinstance(renewed, CursorResult)
    return renewed.rowcount > 0


def finish(session: Session, item: LeasedItem, results: Results) -> None:
    """Keep what became of an item's lines, and take the item out.

    Raises
    ------
    LeaseLost
        When that is no longer for this worker to tell; the transaction is to be given up.
    """
    batch, row = _held(session, item)
    session.add(
        BatchResultRow(
            batch_id=item.batch_id,
            first_line=results.first_line,
            n_lines=results.n_lines,
            body=batches.pack(results.lines),
        )
    )
    session.delete(row)
    batch.done += results.done
    batch.failed += results.failed
    session.flush()
    batches.end_if_empty(session, batch)
    session.flush()


def add_listed(
    session: Session,
    listing: LeasedItem,
    items: Iterable[NewItem],
    inputs: int,
    mark: bytes,
    lease: float,
) -> None:
    """Add what was found in a folder so far.

    Parameters
    ----------
    inputs
        Swings in the items.
    mark
        How far the listing is, to go on from there.
    lease
        Seconds for which this worker goes on.

    Raises
    ------
    LeaseLost
    """
    batch, row = _held(session, listing)
    batches.add_items(session, listing.batch_id, items)
    batch.total += inputs
    row.body = batches.pack(mark)
    session.flush()
    _lease(session, row, listing.leased_by, lease)


def end_listing(
    session: Session,
    listing: LeasedItem,
    passed_over: Mapping[str, int],
    problem: str | None,
) -> None:
    """Note that a folder is listed, or why it can't be.

    Parameters
    ----------
    passed_over
        Files of it that are not read, counted by how their names end.

    Raises
    ------
    LeaseLost
    """
    batch, row = _held(session, listing)
    session.delete(row)
    session.flush()
    batch.state = BatchState.RUNNING
    batch.passed_over = json.dumps(dict(passed_over))
    if problem is not None and not batch.total:
        batch.state, batch.problem = BatchState.FAILED, problem
        batches.end(batch)
    else:
        batch.problem = problem
        batches.end_if_empty(session, batch)
    session.flush()


def clock(bound: Session | Connection) -> ColumnElement[float]:
    """Seconds since 1970, by the database's clock where it has one that others share."""
    engine = bound.get_bind() if isinstance(bound, Session) else bound
    if engine.dialect.name == "postgresql":
        return cast(func.extract("epoch", func.clock_timestamp()), Double)
    return literal(time.time())


def _held(session: Session, item: LeasedItem) -> tuple[BatchRow, BatchItemRow]:
    """The batch of an item, locked, and the item, if both are still this worker's to change."""
    batch = session.get(BatchRow, item.batch_id, with_for_update=True)
    row = session.scalars(select(BatchItemRow).where(*_same(item))).first()
    if batch is None or row is None or batch.state not in OPEN:
        raise LeaseLost
    return batch, row


def _free(session: Session, items: Select[T]) -> Select[T]:
    """Of some items those that may be taken."""
    return items.join(BatchRow, BatchRow.id == BatchItemRow.batch_id).where(
        BatchRow.state.in_(OPEN), BatchItemRow.leased_until < clock(session)
    )


def _lease(
    session: Session, row: BatchItemRow, worker: str, seconds: float, **more: object
) -> None:
    session.execute(
        update(BatchItemRow)
        .where(BatchItemRow.batch_id == row.batch_id, BatchItemRow.number == row.number)
        .values(leased_by=worker, leased_until=clock(session) + seconds, **more)
        .execution_options(synchronize_session=False)
    )


def _same(item: LeasedItem) -> tuple[ColumnElement[bool], ...]:
    return (
        BatchItemRow.batch_id == item.batch_id,
        BatchItemRow.number == item.number,
        BatchItemRow.leased_by == item.leased_by,
    )
