"""What is kept for long enough is deleted."""

from __future__ import annotations

import time
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from typing import Any, Final

from sqlalchemy import (
    ColumnElement,
    CursorResult,
    Delete,
    Select,
    delete,
    exists,
    func,
    or_,
    select,
)
from sqlalchemy.orm import InstrumentedAttribute, Session

from service.records import _rows
from service.records.access import academies
from service.records.access.sessions import Behalf, Caller
from service.records.batches import batches
from service.records.connection.database import Database
from service.records.tables import (
    AllowanceRow,
    AuditRow,
    LessonRow,
    PlayerRow,
    RetryRow,
    SwingRow,
)

_AT_ONCE: Final[int] = 200
"""Rows deleted in one transaction, so that nobody waits long for it."""

_CALLER: Final = Caller(None, "purge", "COMMAND", "python -m service purge")
"""Who did it, as the audit tells it."""


@dataclass(frozen=True)
class Retention:
    """How long what is kept; ``None`` for ever.

    Attributes
    ----------
    people
        Swings, and lessons and players left without any.
    batches
        Batches that are over, with their results.
    """

    people: timedelta | None
    audit: timedelta | None
    retries: timedelta
    batches: timedelta | None = None


@dataclass(frozen=True)
class Purged:
    """How many rows of each kind are, or would be, deleted."""

    swings: int = 0
    lessons: int = 0
    players: int = 0
    retries: int = 0
    audit: int = 0
    batches: int = 0

    def __add__(self, other: Purged) -> Purged:
        return Purged(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(Purged)))


def purge(database: Database, retention: Retention, *, dry_run: bool = False) -> Purged:
    """Delete in every academy what was kept for long enough.

    A swing goes so long after it was kept, whenever it was made; a lesson and a player so long
    after they were kept and once nothing younger is left of them. The audit has the ids.

    Parameters
    ----------
    dry_run
        Only count.
    """
    now = _rows.now()
    with database.reading() as session:
        ids = [academy.id for academy in academies.fetch_all(session)]
    total = Purged()
    for academy_id in ids:
        of_one = database.on_behalf(Behalf(academy_id, None if dry_run else _CALLER))
        total += _count(of_one, retention, now) if dry_run else _delete(of_one, retention, now)
    if not dry_run:
        with database.writing() as session:
            session.execute(delete(AllowanceRow).where(AllowanceRow.arrival < time.time()))
        database.forget_deleted()
    return total


def _count(database: Database, retention: Retention, now: datetime) -> Purged:
    with database.reading() as session:

        def count(column: InstrumentedAttribute[str], old: ColumnElement[bool] | None) -> int:
            if old is None:
                return 0
            return session.scalar(select(func.count(column)).where(old)) or 0

        kept = Purged(
            retries=count(RetryRow.key, _old_retry(retention, now)),
            audit=count(AuditRow.id, _old_entry(retention, now)),
            batches=len(_old_batches(session, retention, now)),
        )
        if retention.people is None:
            return kept
        before = now - retention.people
        return kept + Purged(
            swings=count(SwingRow.id, SwingRow.created < before),
            lessons=count(LessonRow.id, _old_lesson(before)),
            players=count(PlayerRow.id, _old_player(before)),
        )


def _delete(database: Database, retention: Retention, now: datetime) -> Purged:
    swings = lessons = players = audit = 0
    if retention.people is not None:
        before = now - retention.people
        swings = _bit_by_bit(database, _some_swings(before), SwingRow)
        lessons = _bit_by_bit(database, _some_lessons(before), LessonRow)
        players = _bit_by_bit(database, _some_players(before), PlayerRow)
    with database.writing() as session:
        old = _old_retry(retention, now)
        retries = _deleted(session, delete(RetryRow).where(old))
        old_entry = _old_entry(retention, now)
        if old_entry is not None:
            audit = _deleted(session, delete(AuditRow).where(old_entry))
        old_batches = _old_batches(session, retention, now)
    for batch_id in old_batches:
        with database.writing() as session:
            batches.delete(session, batch_id)
    return Purged(swings, lessons, players, retries, audit, len(old_batches))


def _bit_by_bit(database: Database, some: Select[str, str], row: type[Any]) -> int:
    """Delete what a query finds, which gives the id of each and of what it belongs to."""
    count = 0
    while True:
        with database.writing() as session:
            found = session.execute(some.limit(_AT_ONCE)).all()
            for record_id, owner in found:
                session.touched.rows[row.__tablename__, record_id] = owner
            session.execute(delete(row).where(row.id.in_([record_id for record_id, _ in found])))
        count += len(found)
        if len(found) < _AT_ONCE:
            return count


def _some_swings(before: datetime) -> Select[str, str]:
    return select(SwingRow.id, SwingRow.lesson_id).where(SwingRow.created < before)


def _some_lessons(before: datetime) -> Select[str, str]:
    return select(LessonRow.id, LessonRow.player_id).where(_old_lesson(before))


def _some_players(before: datetime) -> Select[str, str]:
    return select(PlayerRow.id, PlayerRow.id).where(_old_player(before))


def _old_lesson(before: datetime) -> ColumnElement[bool]:
    young = exists().where(SwingRow.lesson_id == LessonRow.id, SwingRow.created >= before)
    return (LessonRow.created < before) & ~young


def _old_player(before: datetime) -> ColumnElement[bool]:
    young_swing = exists().where(SwingRow.lesson_id == LessonRow.id, SwingRow.created >= before)
    young = exists().where(
        LessonRow.player_id == PlayerRow.id, or_(LessonRow.created >= before, young_swing)
    )
    return (PlayerRow.created < before) & ~young


def _old_retry(retention: Retention, now: datetime) -> ColumnElement[bool]:
    return RetryRow.created < now - retention.retries


def _old_batches(session: Session, retention: Retention, now: datetime) -> list[str]:
    if retention.batches is None:
        return []
    return batches.over_since(session, now - retention.batches)


def _old_entry(retention: Retention, now: datetime) -> ColumnElement[bool] | None:
    return None if retention.audit is None else AuditRow.at < now - retention.audit


def _deleted(session: Session, statement: Delete) -> int:
    result = session.execute(statement)
    assert isinstance(result, CursorResult)
    return result.rowcount
