"""The tables. Deleting a row deletes whatever belongs to it (``ON DELETE CASCADE``).

What is kept of players is :class:`OfAcademy`: whoever reads or writes it sees the rows of one
academy (:mod:`service.records.access.sessions`).
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import (
    DateTime,
    Dialect,
    Double,
    Enum,
    ForeignKey,
    Index,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Text,
    TypeDecorator,
    UniqueConstraint,
    Uuid,
    false,
    text,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from service.analysis.types import (
    Club,
    CoachVerdict,
    Grade,
    Handedness,
    Intent,
    Status,
    View,
)
from service.records.default_academy import DEFAULT_ACADEMY
from service.records.entities import AuditAction, ConsentBy, Role

_CODE = 64
_RETRY_KEY = 240


class UtcDateTime(TypeDecorator[datetime]):
    """A moment in UTC, also where the database knows no time zones."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Shift to UTC; a moment without a time zone is refused."""
        if value is not None and value.tzinfo is None:
            raise ValueError("a moment needs a time zone")
        return value.astimezone(UTC) if value else None

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Say that it is UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def _enum(kind: type[StrEnum]) -> Enum:
    """Kept by value as text, so that a new member needs no migration."""
    return Enum(
        kind,
        native_enum=False,
        length=_CODE,
        values_callable=lambda members: [member.value for member in members],
    )


_ENUMS: tuple[type[StrEnum], ...] = (
    AuditAction,
    Club,
    CoachVerdict,
    ConsentBy,
    Grade,
    Handedness,
    Intent,
    Role,
    Status,
    View,
)


class Base(DeclarativeBase):
    """Names every constraint, so that a migration can speak of it."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map: dict[Any, Any] = {  # noqa: RUF012 - SQLAlchemy's own name
        datetime: UtcDateTime,
        str: Text,
        bytes: LargeBinary,
        float: Double,
        **{kind: _enum(kind) for kind in _ENUMS},
    }


def _id() -> Mapped[str]:
    return mapped_column(Uuid(as_uuid=False), primary_key=True)


def _belongs_to(column: str) -> Mapped[str]:
    return mapped_column(Uuid(as_uuid=False), ForeignKey(column, ondelete="CASCADE"), index=True)


def _may_belong_to(column: str) -> Mapped[str | None]:
    return mapped_column(Uuid(as_uuid=False), ForeignKey(column, ondelete="CASCADE"), index=True)


class AcademyRow(Base):
    """An academy, whose players, lessons and swings no other one sees."""

    __tablename__ = "academy"

    id: Mapped[str] = _id()
    name: Mapped[str] = mapped_column(String(200), unique=True)
    created: Mapped[datetime]


class KeyRow(Base):
    """A key to the service; of the key itself only its digest is kept."""

    __tablename__ = "api_key"

    id: Mapped[str] = _id()
    academy_id: Mapped[str] = _belongs_to("academy.id")
    prefix: Mapped[str] = mapped_column(String(_CODE), unique=True)
    digest: Mapped[bytes]
    scopes: Mapped[str]
    name: Mapped[str | None]
    created: Mapped[datetime]
    expires: Mapped[datetime | None]
    revoked: Mapped[datetime | None]


class OfAcademy:
    """Rows that belong to one academy and are seen by nobody else.

    The default is for rows that a version before academies writes beside this one. There is no
    foreign key, as SQLite can't add a column with one to a table that has rows; what is written
    here comes from a key, whose academy is there.
    """

    academy_id: Mapped[str] = mapped_column(
        Uuid(as_uuid=False), server_default=text(f"'{DEFAULT_ACADEMY}'")
    )


class PlayerRow(OfAcademy, Base):
    """A player."""

    __tablename__ = "player"
    __table_args__ = (Index(None, "academy_id", "id"),)

    id: Mapped[str] = _id()
    name: Mapped[str]
    handedness: Mapped[Handedness | None]
    note: Mapped[str | None]
    birth_year: Mapped[int | None]
    consent_given_on: Mapped[date | None]
    consent_by: Mapped[ConsentBy | None]
    training_consent: Mapped[bool] = mapped_column(server_default=false())
    created: Mapped[datetime]
    version: Mapped[int]
    height_cm: Mapped[float | None]


class LessonRow(OfAcademy, Base):
    """A lesson of a player."""

    __tablename__ = "lesson"

    id: Mapped[str] = _id()
    player_id: Mapped[str] = _belongs_to("player.id")
    date: Mapped[date] = mapped_column(index=True)
    title: Mapped[str | None]
    coach_note: Mapped[str | None]
    created: Mapped[datetime]
    version: Mapped[int]


class SwingRow(OfAcademy, Base):
    """A swing of a lesson, with the request it came in as gzipped JSON."""

    __tablename__ = "swing"
    __table_args__ = (
        Index(None, "academy_id", "id"),
        # If this were shorter, SQLite would read all swings of the academy for two lessons'.
        Index(None, "lesson_id", "academy_id", "id"),
    )

    id: Mapped[str] = _id()
    lesson_id: Mapped[str] = mapped_column(
        Uuid(as_uuid=False), ForeignKey("lesson.id", ondelete="CASCADE")
    )
    created: Mapped[datetime]
    recorded_at: Mapped[datetime]
    role: Mapped[Role]
    intent: Mapped[Intent]
    club: Mapped[Club | None] = mapped_column(index=True)
    client_reference: Mapped[str | None]
    n_frames: Mapped[int]
    analyses: Mapped[int]
    version: Mapped[int] = mapped_column(server_default="1")
    request: Mapped[bytes] = mapped_column(deferred=True, deferred_raiseload=True)


class AnalysisRow(OfAcademy, Base):
    """One analysis of a swing; the one numbered ``SwingRow.analyses`` is the newest."""

    __tablename__ = "analysis"
    __table_args__ = (UniqueConstraint("swing_id", "number"),)

    id: Mapped[str] = _id()
    swing_id: Mapped[str] = mapped_column(
        Uuid(as_uuid=False), ForeignKey("swing.id", ondelete="CASCADE")
    )
    number: Mapped[int]
    created: Mapped[datetime]
    service_version: Mapped[str]
    model_version: Mapped[str | None]
    swing_found: Mapped[bool]
    view: Mapped[View | None] = mapped_column(index=True)
    handedness: Mapped[Handedness | None]
    frame_rate: Mapped[float]
    content: Mapped[str] = mapped_column(deferred=True, deferred_raiseload=True)


class RetryRow(OfAcademy, Base):
    """The first answer to a request under a key; one of the ids says with what it goes."""

    __tablename__ = "retry"
    __table_args__ = (PrimaryKeyConstraint("academy_id", "key"),)

    key: Mapped[str] = mapped_column(String(_RETRY_KEY))
    fingerprint: Mapped[bytes]
    created: Mapped[datetime] = mapped_column(index=True)
    player_id: Mapped[str | None] = _may_belong_to("player.id")
    lesson_id: Mapped[str | None] = _may_belong_to("lesson.id")
    swing_id: Mapped[str | None] = _may_belong_to("swing.id")
    batch_id: Mapped[str | None] = _may_belong_to("batch.id")
    location: Mapped[str]
    etag: Mapped[str]
    body: Mapped[bytes]


class CompatibilityRow(Base):
    """One row: the oldest version of the tables whose code can work with those that are there."""

    __tablename__ = "compatibility"

    oldest: Mapped[str] = mapped_column(String(_CODE), primary_key=True)


class FindingRow(OfAcademy, Base):
    """Status and grade of a fault in an analysis, to be searched and counted.

    The analysis has the finding whole. ``reason`` is the code of why it is not assessable; rows of
    earlier versions lack it.
    """

    __tablename__ = "finding"
    __table_args__ = (Index(None, "fault", "status"),)

    analysis_id: Mapped[str] = mapped_column(
        Uuid(as_uuid=False), ForeignKey("analysis.id", ondelete="CASCADE"), primary_key=True
    )
    fault: Mapped[str] = mapped_column(String(_CODE), primary_key=True)
    status: Mapped[Status]
    grade: Mapped[Grade | None]
    reason: Mapped[str | None] = mapped_column(String(_CODE))


class AuditRow(OfAcademy, Base):
    """Who read or changed what of whom; rows are added, never changed."""

    __tablename__ = "audit"
    __table_args__ = (Index(None, "academy_id", "id"),)

    id: Mapped[str] = _id()
    at: Mapped[datetime] = mapped_column(index=True)
    key_prefix: Mapped[str | None] = mapped_column(String(_CODE))
    request_id: Mapped[str] = mapped_column(String(_CODE))
    method: Mapped[str] = mapped_column(String(_CODE))
    route: Mapped[str]
    action: Mapped[AuditAction]
    subjects: Mapped[str]
    omitted: Mapped[int]


class AllowanceRow(Base):
    """How far each caller has used up what the rate limits allow (PostgreSQL only).

    On SQLite it stays empty: there each request would wait for the disk, and a file of its own
    serves (:mod:`service.records.access.rates`).
    """

    __tablename__ = "allowance"

    who: Mapped[str] = mapped_column(String(_CODE), primary_key=True)
    arrival: Mapped[float]
