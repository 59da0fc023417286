"""The keys of a lesson's recap, as a coach wants them."""

from __future__ import annotations

from typing import Final

from sqlalchemy.orm import Session

from service.intake.errors import complaining, json_pointer
from service.lessons.coach.edits import KeyEdit, RecapEdits
from service.records import Precondition
from service.records.reviews import recap_edits
from service.records.reviews.entities import KeptEdits
from service.use_cases.recap import build_recap

_FIX: Final[str] = (
    "Say first that it is there: PUT /v1/swings/{{swing_id}}/findings/{fault}/review with the "
    "verdict confirm. Or leave fault out and make it a key of your own, with title, position and "
    "work_on."
)


def edit_keys(
    session: Session, lesson_id: str, edits: RecapEdits, reviewer: str, expected: Precondition
) -> tuple[KeptEdits, bool]:
    """Keep the edits of a lesson's recap in place of those before; and whether there were none.

    Raises
    ------
    RecordNotFound, StaleVersion, MissingVersion
        As :func:`service.records.reviews.recap_edits.put` has it.
    InvalidRequest
        When they show a fault that the recap does not find, as nobody would read that key. What
        was kept before may be sent again all the same.
    """
    before = recap_edits.find(session, lesson_id)
    kept, made = recap_edits.put(session, lesson_id, edits, reviewer, expected)
    if before is None or kept.version != before.version:
        _refuse_those_not_found(edits, build_recap(session, lesson_id).story.not_found)
    return kept, made


def _refuse_those_not_found(edits: RecapEdits, not_found: tuple[str, ...]) -> None:
    with complaining() as complaints:
        for index, key in enumerate(edits.keys):
            if isinstance(key, KeyEdit) and not key.hidden and key.fault in not_found:
                complaints.add(
                    json_pointer("keys", index, "fault"),
                    "is a fault that this recap does not find, so that nobody would read the key",
                    _FIX.format(fault=key.fault),
                )
