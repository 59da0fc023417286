"""A lesson's recap approved as it was read."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy.orm import Session

from service.records import Database
from service.records.errors import ChangedSince
from service.records.reviews import recap_approvals
from service.report.recap import Recap
from service.use_cases.recap import build_recap


def approve_recap(
    database: Database,
    lesson_id: str,
    reviewer: str,
    fingerprint: str,
    also: Callable[[Session, Recap], None],
) -> Recap:
    """Approve a recap, and give it as it stands then.

    Parameters
    ----------
    fingerprint
        That of the recap as it was read.
    also
        Called with the approved recap in the transaction that keeps the approval.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    ChangedSince
        When the recap tells something else by now.
    """
    with database.writing() as session:
        recap = build_recap(session, lesson_id)
        if recap.standing.told.fingerprint != fingerprint:
            raise ChangedSince("recap")
        if recap.standing.draft:
            recap_approvals.add(session, lesson_id, reviewer, recap.standing.told)
        approved = build_recap(session, lesson_id)
        also(session, approved)
        return approved


def withdraw_approval(database: Database, lesson_id: str, reviewer: str) -> None:
    """Take an approval back, so that the recap is a draft again.

    Raises
    ------
    RecordNotFound
        When there is no such lesson, or its recap is not approved.
    """
    with database.writing() as session:
        recap_approvals.withdraw(session, lesson_id, reviewer)
