"""Approvals of a lesson's recap: give, withdraw, read; entries are only ever added."""

from __future__ import annotations

from typing import Final

from pydantic import TypeAdapter
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.lessons.coach.approval import ApprovableContent, Approval
from service.records import _rows
from service.records.errors import RecordNotFound
from service.records.identity import new_id
from service.records.reviews.tables import RecapApprovalRow
from service.records.tables import LessonRow

_TOLD: Final = TypeAdapter(ApprovableContent)


def add(
    session: Session, lesson_id: str, reviewer: str, told: ApprovableContent | None
) -> Approval:
    """Approve what a lesson's recap tells, or withdraw the approval with ``None``.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    """
    _rows.require(session, LessonRow, lesson_id, for_update=True)
    last = _last(session, lesson_id)
    row = RecapApprovalRow(
        id=new_id(),
        lesson_id=lesson_id,
        number=1 + (0 if last is None else last.number),
        created=_rows.now(),
        reviewer=reviewer,
        told=None if told is None else _TOLD.dump_json(told).decode(),
    )
    session.add(row)
    session.flush()
    return _approval(row)


def withdraw(session: Session, lesson_id: str, reviewer: str) -> None:
    """Withdraw the approval of a lesson's recap.

    Raises
    ------
    RecordNotFound
        When there is no such lesson, or its recap is not approved.
    """
    _rows.require(session, LessonRow, lesson_id, for_update=True)
    last = find(session, lesson_id)
    if last is None or last.told is None:
        raise RecordNotFound("approval of the recap")
    add(session, lesson_id, reviewer, None)


def find(session: Session, lesson_id: str) -> Approval | None:
    """The last word on the approval of a lesson's recap; ``None`` where there was none."""
    row = _last(session, lesson_id)
    return None if row is None else _approval(row)


def all_of(session: Session, lesson_id: str) -> list[Approval]:
    """Every approval and withdrawal of a lesson's recap, oldest first."""
    rows = select(RecapApprovalRow).filter_by(lesson_id=lesson_id)
    return [_approval(row) for row in session.scalars(rows.order_by(RecapApprovalRow.number))]


def _last(session: Session, lesson_id: str) -> RecapApprovalRow | None:
    rows = select(RecapApprovalRow).filter_by(lesson_id=lesson_id)
    return session.scalars(rows.order_by(RecapApprovalRow.number.desc()).limit(1)).first()


def _approval(row: RecapApprovalRow) -> Approval:
    told = None if row.told is None else _TOLD.validate_json(row.told)
    return Approval(row.reviewer, row.created, told)
