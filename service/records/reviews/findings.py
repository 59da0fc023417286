"""Reviews of findings: keep, change, withdraw, look back; entries are only ever added.

A review belongs to a swing and a fault, not to an analysis, so that it outlives the analysis that
it was made for. As long as none is kept, or it was withdrawn, anybody may make one; from then on a
change needs the version that it was made for.
"""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import ColumnElement, Select, and_, func, select
from sqlalchemy.orm import Session, aliased

from service.analysis.types import Review
from service.lessons.coach.agreement import Pair
from service.records import _rows
from service.records.errors import RecordNotFound, StaleVersion
from service.records.identity import is_id, new_id
from service.records.paging import Page, Window
from service.records.reviews.entities import Label, NewReview, ReviewEntry
from service.records.reviews.tables import ReviewRow
from service.records.tables import (
    AnalysisRow,
    FindingRow,
    LessonRow,
    PlayerRow,
    SwingRow,
)


def put(
    session: Session,
    swing_id: str,
    fault: str,
    new: NewReview,
    expected: _rows.Precondition,
) -> tuple[ReviewEntry, bool]:
    """Keep a review, the one that counts from now on; and whether there was none before.

    One that says what is kept already changes nothing, whatever version it was made for, so that
    it can be sent again.

    Raises
    ------
    RecordNotFound
        When there is no such swing or analysis.
    StaleVersion
        When another review is kept than the one that this was made for.
    MissingVersion
        When one is kept and this was made for none.
    """
    swing = _rows.require(session, SwingRow, swing_id, for_update=True)
    analysis = swing.analyses if new.analysis is None else new.analysis
    if not 1 <= analysis <= swing.analyses:
        raise RecordNotFound("analysis")
    last = _last(session, swing_id, fault)
    there = last is not None and last.verdict is not None
    wanted = (new.verdict, new.grade, new.note, new.reviewer, analysis)
    if last is not None and there and wanted == _content(last):
        return _entry(last), False
    expected.check("review", last.version if last is not None and there else None)
    row = ReviewRow(
        id=new_id(),
        swing_id=swing_id,
        fault=fault,
        version=1 + (last.version if last is not None else 0),
        created=_rows.now(),
        reviewer=new.reviewer,
        analysis=analysis,
        verdict=new.verdict,
        grade=new.grade,
        note=new.note,
    )
    session.add(row)
    session.flush()
    return _entry(row), not there


def withdraw(
    session: Session, swing_id: str, fault: str, reviewer: str, expected: _rows.Expected
) -> None:
    """Take a review back; its history stays.

    Raises
    ------
    RecordNotFound
        When there is no such swing, or no review of the fault.
    StaleVersion
        When another review is kept than the one that this was made for.
    """
    _rows.require(session, SwingRow, swing_id, for_update=True)
    last = _last(session, swing_id, fault)
    if last is None or last.verdict is None:
        raise RecordNotFound("review")
    if expected is not None and last.version not in expected:
        raise StaleVersion("review", last.version)
    row = ReviewRow(
        id=new_id(),
        swing_id=swing_id,
        fault=fault,
        version=last.version + 1,
        created=_rows.now(),
        reviewer=reviewer,
        analysis=last.analysis,
        verdict=None,
        grade=None,
        note=None,
    )
    session.add(row)
    session.flush()


def get(session: Session, swing_id: str, fault: str) -> ReviewEntry:
    """The review of a fault in a swing.

    Raises
    ------
    RecordNotFound
        When there is no such swing, or no review of the fault.
    """
    _rows.require(session, SwingRow, swing_id)
    last = _last(session, swing_id, fault)
    if last is None or last.verdict is None:
        raise RecordNotFound("review")
    return _entry(last)


def fetch_history(session: Session, swing_id: str, fault: str, window: Window) -> Page[ReviewEntry]:
    """Some of what was said of a fault in a swing, oldest first, withdrawals included.

    Raises
    ------
    RecordNotFound
        When there is no such swing.
    """
    _rows.require(session, SwingRow, swing_id)
    query = select(ReviewRow).where(ReviewRow.swing_id == swing_id, ReviewRow.fault == fault)
    return _rows.page(session, query, ReviewRow.id, window, _entry)


def all_of(session: Session, swing_id: str) -> list[ReviewEntry]:
    """Everything that was ever said of a swing, oldest first."""
    query = select(ReviewRow).where(ReviewRow.swing_id == swing_id)
    return [_entry(row) for row in session.scalars(query.order_by(ReviewRow.id))]


def of_swings(session: Session, swing_ids: Collection[str]) -> dict[str, dict[str, Review]]:
    """The reviews of some swings, by swing and fault; swings without any are left out."""
    return _by_swing(session, ReviewRow.swing_id.in_([i for i in swing_ids if is_id(i)]))


def of_lessons(session: Session, lesson_ids: Collection[str]) -> dict[str, dict[str, Review]]:
    """The reviews of all swings of some lessons, as of :func:`of_swings`."""
    swings = select(SwingRow.id).where(SwingRow.lesson_id.in_(lesson_ids))
    return _by_swing(session, ReviewRow.swing_id.in_(swings))


def pairs(session: Session) -> list[Pair]:
    """What the newest analysis and the coach say of every fault reviewed, counted alike ones."""
    newest = and_(AnalysisRow.swing_id == SwingRow.id, AnalysisRow.number == SwingRow.analyses)
    found = and_(FindingRow.analysis_id == AnalysisRow.id, FindingRow.fault == ReviewRow.fault)
    said = (
        ReviewRow.fault,
        AnalysisRow.view,
        FindingRow.status,
        FindingRow.grade,
        ReviewRow.verdict,
        ReviewRow.grade,
        AnalysisRow.model_version,
    )
    query = (
        select(*said, func.count())
        .select_from(ReviewRow)
        .join(SwingRow, SwingRow.id == ReviewRow.swing_id)
        .join(AnalysisRow, newest)
        .outerjoin(FindingRow, found)
        .where(_counts())
        .group_by(*said)
    )
    # The type checker can't see that reviews without a verdict, those withdrawn, are left out.
    return [Pair(*row) for row in session.execute(query)]  # type: ignore[arg-type]


def labels(session: Session) -> list[Label]:
    """What coaches decided about swings of players who consent to its being learned from."""
    query = (
        select(
            LessonRow.player_id,
            ReviewRow.swing_id,
            ReviewRow.fault,
            ReviewRow.verdict,
            ReviewRow.grade,
        )
        .join(SwingRow, SwingRow.id == ReviewRow.swing_id)
        .join(LessonRow, LessonRow.id == SwingRow.lesson_id)
        .join(PlayerRow, PlayerRow.id == LessonRow.player_id)
        .where(_counts(), PlayerRow.training_consent)
        .order_by(ReviewRow.swing_id, ReviewRow.fault)
    )
    # As above.
    return [Label(*row) for row in session.execute(query)]  # type: ignore[arg-type]


def _counts() -> ColumnElement[bool]:
    """That a review is the last of its fault and not withdrawn."""
    later = aliased(ReviewRow)
    last = (
        select(func.max(later.version))
        .where(later.swing_id == ReviewRow.swing_id, later.fault == ReviewRow.fault)
        .scalar_subquery()
    )
    return and_(ReviewRow.verdict.is_not(None), ReviewRow.version == last)


def _last(session: Session, swing_id: str, fault: str) -> ReviewRow | None:
    query: Select[ReviewRow] = select(ReviewRow).filter_by(swing_id=swing_id, fault=fault)
    return session.scalars(query.order_by(ReviewRow.version.desc()).limit(1)).first()


def _by_swing(session: Session, wanted: ColumnElement[bool]) -> dict[str, dict[str, Review]]:
    found: dict[str, dict[str, Review]] = {}
    query = select(ReviewRow).where(wanted, _counts()).order_by(ReviewRow.id)
    for entry in map(_entry, session.scalars(query)):
        if entry.review is not None:
            found.setdefault(entry.swing_id, {})[entry.fault] = entry.review
    return found


def _content(row: ReviewRow) -> tuple[object, ...]:
    return row.verdict, row.grade, row.note, row.reviewer, row.analysis


def _entry(row: ReviewRow) -> ReviewEntry:
    return ReviewEntry(
        row.id,
        row.swing_id,
        row.fault,
        row.version,
        row.created,
        row.reviewer,
        row.analysis,
        row.verdict,
        row.grade,
        row.note,
    )
