"""Kept swings and what their newest analyses found, counted by the database in groups."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import Any, Final

from sqlalchemy import ColumnElement, extract, func, literal, select
from sqlalchemy.orm import Session
from sqlalchemy.sql import sqltypes

from service.records.keeping.selecting import SwingFilter, filtered, joined
from service.records.tables import AnalysisRow, FindingRow, LessonRow, SwingRow


class GroupBy(StrEnum):
    """What kept swings can be grouped by."""

    VIEW = "view"
    CLUB = "club"
    INTENT = "intent"
    ROLE = "role"
    HANDEDNESS = "handedness"
    YEAR = "year"


_COLUMNS: Final[dict[GroupBy, ColumnElement[Any]]] = {
    GroupBy.VIEW: AnalysisRow.view.expression,
    GroupBy.CLUB: SwingRow.club.expression,
    GroupBy.INTENT: SwingRow.intent.expression,
    GroupBy.ROLE: SwingRow.role.expression,
    GroupBy.HANDEDNESS: AnalysisRow.handedness.expression,
    GroupBy.YEAR: extract("year", LessonRow.date),
}


def more_than(session: Session, wanted: SwingFilter, most: int) -> bool:
    """Whether more swings are wanted than that, without counting on."""
    next_one = filtered(joined(select(SwingRow.id)), wanted).offset(most).limit(1)
    return session.scalars(next_one).first() is not None


def count_clips(
    session: Session, wanted: SwingFilter, by: GroupBy | None
) -> list[tuple[str | None, bool, int]]:
    """Group, whether a swing was found, and how many."""
    group = _group(by)
    query = joined(select(group, AnalysisRow.swing_found, func.count(SwingRow.id)))
    rows = session.execute(filtered(query, wanted).group_by(group, AnalysisRow.swing_found))
    return [(_told(row[0]), row[1], row[2]) for row in rows]


def count_findings(
    session: Session, wanted: SwingFilter, by: GroupBy | None
) -> list[tuple[str | None, str, str, str | None, int]]:
    """Group, fault, status, reason where it is not assessable, and how many."""
    group = _group(by)
    told = (group, FindingRow.fault, FindingRow.status, FindingRow.reason)
    query = joined(select(*told, func.count(SwingRow.id)))
    query = query.join(FindingRow, FindingRow.analysis_id == AnalysisRow.id)
    rows = session.execute(filtered(query, wanted).group_by(*told))
    return [
        (_told(of), fault, status.value, reason, count)
        for of, fault, status, reason, count in rows.all()
    ]


def _group(by: GroupBy | None) -> ColumnElement[Any]:
    return literal(None, sqltypes.Text()) if by is None else _COLUMNS[by]


def _told(value: object) -> str | None:
    """A group as text; a year comes as an integer or as a decimal, as the database has it."""
    match value:
        case None:
            return None
        case int() | float() | Decimal():
            return str(int(value))
        case _:
            return str(value)
