"""Edits of the keys of a lesson's recap: keep and read."""

from __future__ import annotations

from typing import Final

from pydantic import TypeAdapter
from sqlalchemy.orm import Session

from service.lessons.coach.edits import RecapEdits
from service.records import _rows
from service.records.errors import RecordNotFound
from service.records.reviews.entities import KeptEdits
from service.records.reviews.tables import RecapEditsRow
from service.records.tables import LessonRow

_EDITS: Final = TypeAdapter(RecapEdits)


def put(
    session: Session,
    lesson_id: str,
    edits: RecapEdits,
    reviewer: str,
    expected: _rows.Precondition,
) -> tuple[KeptEdits, bool]:
    """Keep the edits of a lesson's recap in place of those before; and whether there were none.

    Edits that are kept already change nothing, so that they can be sent again.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    StaleVersion
        When others are kept than those that these were made for.
    MissingVersion
        When some are kept and these were made for none.
    """
    _rows.require(session, LessonRow, lesson_id, for_update=True)
    row = session.get(RecapEditsRow, lesson_id, populate_existing=True)
    content = _EDITS.dump_json(edits).decode()
    if row is not None and (row.content, row.reviewer) == (content, reviewer):
        return _kept(row), False
    expected.check("edits of the recap", row.version if row is not None else None)
    made = row is None
    if row is None:
        row = RecapEditsRow(lesson_id=lesson_id, version=0)
        session.add(row)
    row.version += 1
    row.changed, row.reviewer, row.content = _rows.now(), reviewer, content
    session.flush()
    return _kept(row), made


def get(session: Session, lesson_id: str) -> KeptEdits:
    """The edits of a lesson's recap.

    Raises
    ------
    RecordNotFound
        When there is no such lesson, or its recap was never edited.
    """
    _rows.require(session, LessonRow, lesson_id)
    found = find(session, lesson_id)
    if found is None:
        raise RecordNotFound("edit of the recap")
    return found


def find(session: Session, lesson_id: str) -> KeptEdits | None:
    """The edits of the recap of a lesson that is there; ``None`` where it was never edited."""
    row = session.get(RecapEditsRow, lesson_id)
    return None if row is None else _kept(row)


def _kept(row: RecapEditsRow) -> KeptEdits:
    edits = _EDITS.validate_json(row.content)
    return KeptEdits(row.lesson_id, row.version, row.changed, row.reviewer, edits)
