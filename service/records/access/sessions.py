"""Sessions that see one academy: the one place through which every statement on records passes.

Each query gets the condition that its rows are the academy's, whatever it asks for, and each new
row gets the academy. On PostgreSQL the same is decided a second time by the database (row-level
security), from a setting that holds for one transaction.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Final

from sqlalchemy import Connection, Engine, event, text
from sqlalchemy.orm import (
    ORMExecuteState,
    QueryContext,
    Session,
    SessionTransaction,
    with_loader_criteria,
)

from service.records.default_academy import DEFAULT_ACADEMY
from service.records.tables import (
    AuditRow,
    Base,
    LessonRow,
    OfAcademy,
    PlayerRow,
    SwingRow,
)

_SETTING: Final = text("SELECT set_config('swing.academy', :academy, true)")
_EVERY: Final[str] = "all"


@dataclass(frozen=True)
class Caller:
    """Who asks, and for what, as the audit tells it.

    Attributes
    ----------
    key_prefix
        Start of the key that was sent; ``None`` in open mode.
    route
        The path with its parameters' names in place of their values.
    """

    key_prefix: str | None
    request_id: str
    method: str
    route: str


@dataclass(frozen=True)
class Behalf:
    """On whose behalf the records are used.

    Attributes
    ----------
    academy_id
        Nothing of any other academy is seen.
    caller
        Told in the audit; ``None`` where nobody asked from outside, as in a command.
    needs_consent
        Whether nothing is kept of a player without consent.
    """

    academy_id: str = DEFAULT_ACADEMY
    caller: Caller | None = None
    needs_consent: bool = False


@dataclass
class Touched:
    """The rows that a session read or wrote, by kind and id, each with the id it belongs to.

    ``other`` says that it read the audit itself.
    """

    rows: dict[tuple[str, str], str | None] = field(default_factory=dict)
    other: bool = False

    def add(self, row: object) -> None:
        """Note a row."""
        match row:
            case PlayerRow():
                self.rows["player", row.id] = None
            case LessonRow():
                self.rows["lesson", row.id] = row.player_id
            case SwingRow():
                self.rows["swing", row.id] = row.lesson_id
            case AuditRow():
                self.other = True
            case OfAcademy():
                self._add_owners(row)

    def _add_owners(self, row: OfAcademy) -> None:
        """Note of whom another row speaks, by whichever ids it has."""
        for kind in ("player", "lesson", "swing"):
            record_id = getattr(row, f"{kind}_id", None)
            if record_id is not None:
                self.rows.setdefault((kind, record_id), None)


class AcademySession(Session):
    """A session on behalf of somebody."""

    def __init__(self, engine: Engine, behalf: Behalf) -> None:
        super().__init__(engine)
        self.behalf = behalf
        self.touched = Touched()


def see_every_academy(connection: Connection) -> None:
    """Let a transaction on PostgreSQL see the rows of all, as a migration must."""
    if connection.dialect.name == "postgresql":
        connection.execute(_SETTING, {"academy": _EVERY})


@event.listens_for(AcademySession, "do_orm_execute")
def _only_its_rows(state: ORMExecuteState) -> None:
    if not state.is_orm_statement:
        raise TypeError("a statement that names no mapped class can't be kept to one academy")
    academy_id = _behalf(state.session).academy_id
    state.statement = state.statement.options(
        with_loader_criteria(
            OfAcademy, lambda rows: rows.academy_id == academy_id, include_aliases=True
        )
    )


@event.listens_for(AcademySession, "before_flush")
def _in_its_name(session: Session, *_: Any) -> None:
    for row in session.new:
        if isinstance(row, OfAcademy):
            row.academy_id = _behalf(session).academy_id
    _note(session, (*session.new, *session.dirty, *session.deleted))


@event.listens_for(AcademySession, "after_begin")
def _tell_the_database(
    session: Session, _transaction: SessionTransaction, connection: Connection
) -> None:
    if connection.dialect.name == "postgresql":
        connection.execute(_SETTING, {"academy": _behalf(session).academy_id})


@event.listens_for(Base, "load", propagate=True)
def _read(row: object, context: QueryContext) -> None:
    _note(context.session, (row,))


def _note(session: Session, rows: Iterable[object]) -> None:
    if isinstance(session, AcademySession) and session.behalf.caller is not None:
        for row in rows:
            session.touched.add(row)


def _behalf(session: Session) -> Behalf:
    assert isinstance(session, AcademySession)
    return session.behalf
