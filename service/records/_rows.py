"""What the repositories do alike with rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any, Protocol, TypeVar

from sqlalchemy import Select
from sqlalchemy.orm import InstrumentedAttribute, Session

from service.records.errors import RecordNotFound, StaleVersion
from service.records.identity import is_id
from service.records.paging import Page, Window
from service.records.tables import Base, LessonRow, PlayerRow, SwingRow

Row = TypeVar("Row", bound=Base)
Versioned = TypeVar("Versioned", PlayerRow, LessonRow, SwingRow)


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


Entity = TypeVar("Entity", bound=_HasId)

Expected = frozenset[int] | None
"""Versions that a change was made for; ``None`` stands for any."""


def now() -> datetime:
    """This moment, in UTC."""
    return datetime.now(UTC)


def require(session: Session, table: type[Row], record_id: str, *, for_update: bool = False) -> Row:
    """The row with an id, locked against other writers if it is to be changed.

    Raises
    ------
    RecordNotFound
    """
    row = session.get(table, record_id, with_for_update=for_update) if is_id(record_id) else None
    if row is None:
        raise RecordNotFound(table.__tablename__)
    return row


def alter(
    session: Session,
    table: type[Versioned],
    record_id: str,
    changes: Mapping[str, object],
    expected: Expected,
) -> Versioned:
    """Set some columns of a row and count its version up."""
    row = _require_version(session, table, record_id, expected)
    for column, value in changes.items():
        setattr(row, column, value)
    row.version += 1
    session.flush()
    return row


def drop(session: Session, table: type[Versioned], record_id: str, expected: Expected) -> None:
    """Delete a row and all that hangs on it."""
    session.delete(_require_version(session, table, record_id, expected))
    session.flush()


def _require_version(
    session: Session, table: type[Versioned], record_id: str, expected: Expected
) -> Versioned:
    row = require(session, table, record_id, for_update=True)
    if expected is not None and row.version not in expected:
        raise StaleVersion(table.__tablename__, row.version)
    return row


def page(
    session: Session,
    query: Select[*tuple[Any, ...]],
    key: InstrumentedAttribute[str],
    window: Window,
    to_entity: Callable[..., Entity],
) -> Page[Entity]:
    """One page of a query, ordered by ``key``, which holds the id of its entries."""
    if window.after is not None:
        query = query.where(key > window.after)
    rows = session.execute(query.order_by(key).limit(window.limit + 1)).all()
    items = tuple(to_entity(*row) for row in rows[: window.limit])
    return Page(items, items[-1].id if len(rows) > window.limit else None)
