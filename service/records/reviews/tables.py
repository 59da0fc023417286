"""The tables of what coaches say; rows go with their swing or lesson (``ON DELETE CASCADE``)."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from sqlalchemy import ForeignKey, String, UniqueConstraint, Uuid
from sqlalchemy.orm import Mapped, mapped_column

from service.analysis.types import CoachVerdict, Grade
from service.records.tables import Base, OfAcademy

_WORD: Final[int] = 64


class ReviewRow(OfAcademy, Base):
    """A coach's word on a fault in a swing; of one fault the highest version counts.

    Rows are only ever added: a withdrawal is one without a verdict.
    """

    __tablename__ = "review"
    __table_args__ = (UniqueConstraint("swing_id", "fault", "version"),)

    id: Mapped[str] = mapped_column(Uuid(as_uuid=False), primary_key=True)
    swing_id: Mapped[str] = mapped_column(
        Uuid(as_uuid=False), ForeignKey("swing.id", ondelete="CASCADE")
    )
    fault: Mapped[str] = mapped_column(String(_WORD))
    version: Mapped[int]
    created: Mapped[datetime]
    reviewer: Mapped[str]
    analysis: Mapped[int]
    verdict: Mapped[CoachVerdict | None]
    grade: Mapped[Grade | None]
    note: Mapped[str | None]


class RecapEditsRow(OfAcademy, Base):
    """What a coach changed of the keys of a lesson's recap, as JSON."""

    __tablename__ = "recap_edits"

    lesson_id: Mapped[str] = mapped_column(
        Uuid(as_uuid=False), ForeignKey("lesson.id", ondelete="CASCADE"), primary_key=True
    )
    version: Mapped[int]
    changed: Mapped[datetime]
    reviewer: Mapped[str]
    content: Mapped[str]


class RecapApprovalRow(OfAcademy, Base):
    """A recap approved, with what it told then as JSON; of a lesson the last one counts.

    Rows are only ever added: a withdrawal is one that tells nothing.
    """

    __tablename__ = "recap_approval"
    __table_args__ = (UniqueConstraint("lesson_id", "number"),)

    id: Mapped[str] = mapped_column(Uuid(as_uuid=False), primary_key=True)
    lesson_id: Mapped[str] = mapped_column(
        Uuid(as_uuid=False), ForeignKey("lesson.id", ondelete="CASCADE")
    )
    number: Mapped[int]
    created: Mapped[datetime]
    reviewer: Mapped[str]
    told: Mapped[str | None]
