"""Lessons: keep, find, change, delete."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.records import _rows
from service.records.entities import Lesson
from service.records.identity import new_id
from service.records.keeping.consent import check
from service.records.keeping.players import consent_of
from service.records.paging import Page, Window
from service.records.tables import LessonRow, PlayerRow


def add(
    session: Session,
    player_id: str,
    day: date,
    title: str | None = None,
    coach_note: str | None = None,
    record_id: str | None = None,
) -> Lesson:
    """Keep a new lesson of a player, with an id of its own unless it is given one.

    Raises
    ------
    RecordNotFound
        When there is no such player.
    ConsentMissing
        When keeping it takes the player's consent and there is none.
    """
    # Locked, so that the player isn't deleted before the lesson is in.
    player = _rows.require(session, PlayerRow, player_id, for_update=True)
    check(session, consent_of(player), player.birth_year)
    row = LessonRow(
        id=record_id or new_id(),
        player_id=player_id,
        date=day,
        title=title,
        coach_note=coach_note,
        created=_rows.now(),
        version=1,
    )
    session.add(row)
    session.flush()
    return _lesson(row)


def get(session: Session, lesson_id: str) -> Lesson:
    """One lesson, or :class:`~service.records.errors.RecordNotFound`."""
    return _lesson(_rows.require(session, LessonRow, lesson_id))


def fetch_page(session: Session, player_id: str, window: Window) -> Page[Lesson]:
    """Some of a player's lessons.

    Raises
    ------
    RecordNotFound
        When there is no such player.
    """
    _rows.require(session, PlayerRow, player_id)
    query = select(LessonRow).where(LessonRow.player_id == player_id)
    return _rows.page(session, query, LessonRow.id, window, _lesson)


def of_player(session: Session, player_id: str) -> list[Lesson]:
    """All lessons of a player, by date.

    Raises
    ------
    RecordNotFound
        When there is no such player.
    """
    _rows.require(session, PlayerRow, player_id)
    query = select(LessonRow).where(LessonRow.player_id == player_id)
    return [_lesson(row) for row in session.scalars(query.order_by(LessonRow.date, LessonRow.id))]


def change(
    session: Session, lesson_id: str, changes: Mapping[str, object], expected: _rows.Expected
) -> Lesson:
    """Set some fields of a lesson.

    Raises
    ------
    RecordNotFound, StaleVersion
    """
    return _lesson(_rows.alter(session, LessonRow, lesson_id, changes, expected))


def delete(session: Session, lesson_id: str, expected: _rows.Expected = None) -> None:
    """Delete a lesson with its swings and all that was found in them.

    Raises
    ------
    RecordNotFound, StaleVersion
    """
    _rows.drop(session, LessonRow, lesson_id, expected)


def _lesson(row: LessonRow) -> Lesson:
    return Lesson(
        row.id, row.player_id, row.date, row.title, row.coach_note, row.created, row.version
    )
