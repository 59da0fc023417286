"""Batches: keep, find, cancel, delete."""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterable
from datetime import UTC, datetime

from sqlalchemy import delete as delete_where
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.records import _rows
from service.records.access.sessions import AcademySession
from service.records.batches.entities import (
    OPEN,
    Batch,
    BatchState,
    Callback,
    CallbackState,
    CallbackTry,
    NewBatch,
    NewItem,
)
from service.records.batches.tables import BatchItemRow, BatchResultRow, BatchRow
from service.records.errors import RecordNotFound
from service.records.identity import new_id
from service.records.keeping import players
from service.records.paging import Page, Window
from service.records.tables import LessonRow

_LEVEL = 1  # of gzip: this much JSON is packed while somebody waits


def receive(session: AcademySession, wanted: NewBatch) -> Batch:
    """Keep a batch whose items are still to come; nobody sees it until :func:`open_up`.

    Raises
    ------
    RecordNotFound
        When the lesson in which swings are to be kept is not there.
    ConsentMissing
        When keeping them takes the player's consent and there is none.
    """
    if wanted.lesson_id is not None:
        lesson = _rows.require(session, LessonRow, wanted.lesson_id, for_update=True)
        players.require_consent(session, players.get(session, lesson.player_id))
    behalf = session.behalf
    callback = wanted.callback
    row = BatchRow(
        id=new_id(),
        created=_rows.now(),
        state=BatchState.RECEIVING,
        folder=wanted.folder,
        assumed=json.dumps(dict(wanted.assumed)) if wanted.assumed else None,
        lesson_id=wanted.lesson_id,
        role=wanted.role,
        recorded_at=wanted.recorded_at,
        needs_consent=behalf.needs_consent,
        key_prefix=behalf.caller.key_prefix if behalf.caller else None,
        request_id=behalf.caller.request_id if behalf.caller else "",
        total=0,
        done=0,
        failed=0,
        callback_url=callback and callback.url,
        callback_secret=callback and callback.secret,
        callback_state=callback and CallbackState.WAITING,
        callback_tries=0,
    )
    session.add(row)
    session.flush()
    return to_batch(row)


def add_items(session: Session, batch_id: str, items: Iterable[NewItem]) -> None:
    """Add items, whose numbers must be new, to a batch."""
    session.add_all(
        BatchItemRow(
            batch_id=batch_id,
            number=item.number,
            kind=item.kind,
            path=item.path,
            first_line=item.first_line,
            first_in_file=item.first_in_file,
            body=pack(item.body),
            attempts=0,
            leased_until=0.0,
        )
        for item in items
    )
    session.flush()


def open_up(session: Session, batch_id: str, total: int) -> Batch:
    """Let workers at a batch that is received.

    Raises
    ------
    RecordNotFound
        When it is gone, as its lesson is.
    """
    row = _rows.require(session, BatchRow, batch_id, for_update=True)
    row.total = total
    row.state = BatchState.WAITING if row.folder is None else BatchState.LISTING
    if row.folder is None:
        end_if_empty(session, row)
    session.flush()
    return to_batch(row)


def get(session: Session, batch_id: str) -> Batch:
    """One batch, or :class:`~service.records.errors.RecordNotFound`."""
    row = _rows.require(session, BatchRow, batch_id)
    if row.state == BatchState.RECEIVING:
        raise RecordNotFound("batch")
    return to_batch(row)


def fetch_page(session: Session, window: Window, state: BatchState | None = None) -> Page[Batch]:
    """Some of the batches, oldest first."""
    query = select(BatchRow).where(BatchRow.state != BatchState.RECEIVING)
    if state is not None:
        query = query.where(BatchRow.state == state)
    return _rows.page(session, query, BatchRow.id, window, to_batch)


def cancel(session: Session, batch_id: str) -> Batch:
    """Stop a batch: what is done stays, what is not is forgotten. Once over, nothing changes.

    Raises
    ------
    RecordNotFound
    """
    row = _rows.require(session, BatchRow, batch_id, for_update=True)
    if row.state in OPEN:
        session.execute(delete_where(BatchItemRow).where(BatchItemRow.batch_id == batch_id))
        row.state = BatchState.CANCELLED
        row.finished = _rows.now()
        row.callback_state = None  # whoever cancels knows
        session.flush()
    return to_batch(row)


def delete(session: Session, batch_id: str) -> None:
    """Delete a batch with all that was sent and found; swings that were kept stay.

    Raises
    ------
    RecordNotFound
    """
    row = _rows.require(session, BatchRow, batch_id, for_update=True)
    for table in (BatchItemRow, BatchResultRow):
        session.execute(delete_where(table).where(table.batch_id == batch_id))
    session.delete(row)
    session.flush()


def left_over(session: Session, before: datetime) -> list[str]:
    """Ids of batches that began to be received before a moment and never were."""
    query = select(BatchRow.id).where(
        BatchRow.state == BatchState.RECEIVING, BatchRow.created < before
    )
    return list(session.scalars(query))


def over_since(session: Session, before: datetime) -> list[str]:
    """Ids of batches that were over before a moment."""
    return list(session.scalars(select(BatchRow.id).where(BatchRow.finished < before)))


def end_if_empty(session: Session, row: BatchRow) -> None:
    """End a batch that has nothing left to do; its row is locked."""
    query = select(func.count()).select_from(BatchItemRow).where(BatchItemRow.batch_id == row.id)
    if not session.scalar(query):
        row.state = BatchState.DONE
        end(row)


def end(row: BatchRow) -> None:
    """Note that a batch is over, and that somebody is to be told."""
    row.finished = _rows.now()
    row.started = row.started or row.finished
    if row.callback_url is not None:
        row.callback_due = 0.0


def pack(body: bytes) -> bytes:
    """Gzip, fast."""
    return gzip.compress(body, _LEVEL, mtime=0)


def to_batch(row: BatchRow) -> Batch:
    """The row as it is told."""
    callback = None
    if row.callback_url is not None:
        callback = Callback(row.callback_url, row.callback_secret or "")
    return Batch(
        folder=row.folder,
        lesson_id=row.lesson_id,
        role=row.role,
        recorded_at=row.recorded_at,
        callback=callback,
        assumed=json.loads(row.assumed) if row.assumed else {},
        id=row.id,
        state=BatchState(row.state),
        created=row.created,
        started=row.started,
        finished=row.finished,
        total=row.total,
        done=row.done,
        failed=row.failed,
        problem=row.problem,
        passed_over=json.loads(row.passed_over) if row.passed_over else None,
        callback_state=CallbackState(row.callback_state) if row.callback_state else None,
        callback_tries=row.callback_tries,
        callback_last=_last_try(row),
        callback_next=_next_try(row),
        needs_consent=row.needs_consent,
        key_prefix=row.key_prefix,
        request_id=row.request_id,
    )


def _last_try(row: BatchRow) -> CallbackTry | None:
    if row.callback_tried is None:
        return None
    return CallbackTry(row.callback_tried, row.callback_status, row.callback_problem)


def _next_try(row: BatchRow) -> datetime | None:
    if row.callback_state != CallbackState.WAITING or row.callback_due is None:
        return None
    return max(datetime.fromtimestamp(row.callback_due, UTC), row.finished or row.created)
