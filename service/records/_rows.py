"""What the repositories do alike with rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Protocol, TypeVar

from sqlalchemy import Select
from sqlalchemy.orm import InstrumentedAttribute, Session

from service.records.errors import MissingVersion, RecordNotFound, StaleVersion
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


@dataclass(frozen=True)
class Precondition:
    """What a record must be like for its being put (RFC 9110, sections 13.1.1 and 13.1.2).

    Attributes
    ----------
    versions
        The versions that it was put for, empty for one that can't be; ``None`` where none are
        told.
    any_version
        Whether any version is fine, but there must be one.
    none_yet
        Whether there must be no record yet.
    """

    versions: frozenset[int] | None = None
    any_version: bool = False
    none_yet: bool = False

    def check(self, kind: str, version: int | None) -> None:
        """Hold it against a record's version, ``None`` where there is no record.

        Raises
        ------
        StaleVersion
            When it does not hold.
        MissingVersion
            When there is a record and nothing is said of its version.
        """
        if version is None:
            if self.versions is not None or self.any_version:
                raise StaleVersion(kind, None)
            return
        if self.none_yet:
            raise StaleVersion(kind, version)
        if self.any_version:
            return
        if self.versions is None:
            raise MissingVersion(kind, version)
        if version not in self.versions:
            raise StaleVersion(kind, version)


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
    """Set some columns of a row and count its version up, if that changes anything."""
    row = _require_version(session, table, record_id, expected)
    for column, value in changes.items():
        setattr(row, column, value)
    if session.is_modified(row):
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
