"""The tables of batches. Deleting a batch deletes its items and results (``ON DELETE CASCADE``)."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from sqlalchemy import ForeignKey, Index, String, Uuid
from sqlalchemy.orm import Mapped, mapped_column

from service.records.entities import Role
from service.records.tables import Base, OfAcademy

_WORD: Final[int] = 64


class BatchRow(OfAcademy, Base):
    """A batch: what is to be done with it, how far it is, and whom to tell."""

    __tablename__ = "batch"
    __table_args__ = (Index(None, "academy_id", "id"),)

    id: Mapped[str] = mapped_column(Uuid(as_uuid=False), primary_key=True)
    created: Mapped[datetime]
    started: Mapped[datetime | None]
    finished: Mapped[datetime | None]
    state: Mapped[str] = mapped_column(String(_WORD))
    problem: Mapped[str | None]
    folder: Mapped[str | None]
    assumed: Mapped[str | None]
    passed_over: Mapped[str | None]
    lesson_id: Mapped[str | None] = mapped_column(
        Uuid(as_uuid=False), ForeignKey("lesson.id", ondelete="CASCADE"), index=True
    )
    role: Mapped[Role]
    recorded_at: Mapped[datetime | None]
    needs_consent: Mapped[bool]
    key_prefix: Mapped[str | None] = mapped_column(String(_WORD))
    request_id: Mapped[str] = mapped_column(String(_WORD))
    total: Mapped[int]
    done: Mapped[int]
    failed: Mapped[int]
    callback_url: Mapped[str | None]
    callback_secret: Mapped[str | None]
    callback_state: Mapped[str | None] = mapped_column(String(_WORD))
    callback_tries: Mapped[int]
    callback_due: Mapped[float | None]
    callback_tried: Mapped[datetime | None]
    callback_status: Mapped[int | None]
    callback_problem: Mapped[str | None]


class BatchItemRow(OfAcademy, Base):
    """Some lines that are still to be done; ``body`` is gzipped.

    Moments of leases are seconds since 1970 by the database's own clock, so that workers on several
    machines agree on them.
    """

    __tablename__ = "batch_item"
    __table_args__ = (Index(None, "academy_id", "number", "batch_id"),)

    batch_id: Mapped[str] = mapped_column(
        Uuid(as_uuid=False), ForeignKey("batch.id", ondelete="CASCADE"), primary_key=True
    )
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    kind: Mapped[str] = mapped_column(String(_WORD))
    path: Mapped[str | None]
    first_line: Mapped[int]
    first_in_file: Mapped[int]
    body: Mapped[bytes]
    attempts: Mapped[int]
    leased_by: Mapped[str | None] = mapped_column(String(_WORD))
    leased_until: Mapped[float]


class BatchResultRow(OfAcademy, Base):
    """What became of some lines, a line of JSON each, gzipped; keyed by batch and line."""

    __tablename__ = "batch_result"

    batch_id: Mapped[str] = mapped_column(
        Uuid(as_uuid=False), ForeignKey("batch.id", ondelete="CASCADE"), primary_key=True
    )
    first_line: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    n_lines: Mapped[int]
    body: Mapped[bytes]
