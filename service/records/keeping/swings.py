"""Swings and what was found in them: keep, find, delete."""

from __future__ import annotations

import gzip
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session, undefer

from service.analysis.types import SwingAnalysis
from service.records import _rows
from service.records.codec import encode
from service.records.entities import (
    AnalysisEntry,
    KeptAnalysis,
    KeptSwing,
    NewSwing,
    Provenance,
    Swing,
)
from service.records.errors import RecordNotFound
from service.records.identity import is_id, new_id
from service.records.keeping.selecting import (
    SwingFilter,
    filtered,
    to_entry,
    to_kept_analysis,
    to_swing,
    with_newest,
)
from service.records.paging import Page, Window
from service.records.tables import AnalysisRow, FindingRow, LessonRow, SwingRow


@dataclass(frozen=True)
class CameIn:
    """That a swing came in, of whom and when."""

    id: str
    player_id: str
    created: datetime


def add(
    session: Session,
    lesson_id: str,
    swing: NewSwing,
    analysis: SwingAnalysis,
    made_by: Provenance,
    record_id: str | None = None,
) -> KeptSwing:
    """Keep a new swing of a lesson with its first analysis.

    It gets an id of its own unless it is given one.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    """
    # Locked, so that the lesson isn't deleted before the swing is in.
    lesson = _rows.require(session, LessonRow, lesson_id, for_update=True)
    row = SwingRow(
        id=record_id or new_id(),
        lesson_id=lesson_id,
        created=_rows.now(),
        recorded_at=swing.recorded_at,
        role=swing.role,
        intent=analysis.intent,
        club=analysis.club,
        client_reference=swing.client_reference,
        n_frames=len(analysis.times),
        analyses=1,
        version=1,
        request=gzip.compress(swing.request, mtime=0),
    )
    session.add(row)
    session.flush()
    return _add_analysis(session, row, lesson.player_id, analysis, made_by)


def add_analysis(
    session: Session, swing_id: str, analysis: SwingAnalysis, made_by: Provenance
) -> KeptSwing:
    """Keep another analysis of a swing, the newest from now on.

    Raises
    ------
    RecordNotFound
        When there is no such swing.
    """
    query = select(SwingRow, LessonRow.player_id).join(
        LessonRow, LessonRow.id == SwingRow.lesson_id
    )
    locked = query.where(SwingRow.id == swing_id).with_for_update(of=SwingRow)
    found = session.execute(locked).first() if is_id(swing_id) else None
    if found is None:
        raise RecordNotFound("swing")
    row, player_id = found
    row.analyses += 1
    row.version += 1
    return _add_analysis(session, row, player_id, analysis, made_by)


def _add_analysis(
    session: Session, swing: SwingRow, player_id: str, analysis: SwingAnalysis, made_by: Provenance
) -> KeptSwing:
    row = AnalysisRow(
        id=new_id(),
        swing_id=swing.id,
        number=swing.analyses,
        created=_rows.now(),
        service_version=made_by.service,
        model_version=made_by.model,
        swing_found=analysis.swing_found,
        view=analysis.view.value if analysis.view else None,
        handedness=analysis.handedness.value if analysis.handedness else None,
        frame_rate=analysis.quality.frame_rate,
        content=encode(analysis).decode(),
    )
    session.add(row)
    session.flush()
    session.add_all(
        FindingRow(
            analysis_id=row.id,
            fault=finding.fault,
            status=finding.status,
            grade=finding.grade,
            reason=finding.reason and finding.reason.code,
        )
        for finding in analysis.findings
    )
    session.flush()
    kept = KeptAnalysis(**vars(to_entry(row)), analysis=analysis)
    return KeptSwing(to_swing(swing, player_id, row), kept)


def get(session: Session, swing_id: str) -> Swing:
    """One swing, or :class:`~service.records.errors.RecordNotFound`."""
    found = (
        session.execute(with_newest().where(SwingRow.id == swing_id)).first()
        if is_id(swing_id)
        else None
    )
    if found is None:
        raise RecordNotFound("swing")
    return to_swing(*found)


def fetch_page(session: Session, wanted: SwingFilter, window: Window) -> Page[Swing]:
    """Some of the swings that are wanted."""
    return _rows.page(
        session,
        filtered(with_newest(), wanted),
        SwingRow.id,
        window,
        to_swing,
    )


def since(session: Session, moment: datetime) -> list[CameIn]:
    """The swings that came in since a moment, in the order of their ids."""
    query = (
        select(SwingRow.id, LessonRow.player_id, SwingRow.created)
        .join(LessonRow, LessonRow.id == SwingRow.lesson_id)
        .where(SwingRow.created >= moment)
        .order_by(SwingRow.id)
    )
    return [CameIn(*row) for row in session.execute(query)]


def of_lesson(session: Session, lesson_id: str) -> list[Swing]:
    """All swings of a lesson, as they were recorded.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    """
    _rows.require(session, LessonRow, lesson_id)
    query = with_newest().where(SwingRow.lesson_id == lesson_id)
    ordered = query.order_by(SwingRow.recorded_at, SwingRow.id)
    return [to_swing(row, player_id, newest) for row, player_id, newest in session.execute(ordered)]


def newest(session: Session, swing_ids: Collection[str]) -> list[KeptSwing]:
    """Swings, each with its newest analysis, in the order of their ids as given.

    Raises
    ------
    RecordNotFound
        When one of them is not there.
    """
    kept = {s.id: s for s in _kept(session, SwingRow.id.in_([i for i in swing_ids if is_id(i)]))}
    if missing := set(swing_ids).difference(kept):
        raise RecordNotFound("swing", missing)
    return [kept[swing_id] for swing_id in swing_ids]


def kept_of(session: Session, swing_ids: Collection[str]) -> set[str]:
    """Which of some ids are those of kept swings."""
    return set(session.scalars(select(SwingRow.id).where(SwingRow.id.in_(swing_ids))))


def newest_of_lessons(session: Session, lesson_ids: Collection[str]) -> list[KeptSwing]:
    """All swings of some lessons as they were recorded, each with its newest analysis."""
    return _kept(session, SwingRow.lesson_id.in_(lesson_ids))


def counts(session: Session, lesson_ids: Collection[str]) -> dict[str, int]:
    """How many swings each of some lessons has; those without any are left out."""
    query = select(SwingRow.lesson_id, func.count()).where(SwingRow.lesson_id.in_(lesson_ids))
    return {row[0]: row[1] for row in session.execute(query.group_by(SwingRow.lesson_id))}


def requests_of(session: Session, swing_ids: Collection[str]) -> dict[str, bytes]:
    """The requests that swings came in as, JSON text, by the swings' ids.

    Raises
    ------
    RecordNotFound
        When one of the swings is not there.
    """
    if not swing_ids:
        return {}
    query = select(SwingRow.id, SwingRow.request).where(
        SwingRow.id.in_([i for i in swing_ids if is_id(i)])
    )
    packed = {row.id: row.request for row in session.execute(query)}
    if packed.keys() != set(swing_ids):
        raise RecordNotFound("swing")
    return {swing_id: gzip.decompress(request) for swing_id, request in packed.items()}


def get_analysis(session: Session, swing: Swing, number: int) -> KeptAnalysis:
    """One analysis of a swing, or :class:`~service.records.errors.RecordNotFound`."""
    if not 1 <= number <= swing.analyses:
        raise RecordNotFound("analysis")
    query = select(AnalysisRow).options(undefer(AnalysisRow.content))
    row = session.scalars(query.filter_by(swing_id=swing.id, number=number)).one()
    return to_kept_analysis(row, swing)


def fetch_analyses(session: Session, swing_id: str, window: Window) -> Page[AnalysisEntry]:
    """Some of the analyses of a swing, without what they found.

    Raises
    ------
    RecordNotFound
        When there is no such swing.
    """
    get(session, swing_id)
    query = select(AnalysisRow).where(AnalysisRow.swing_id == swing_id)
    return _rows.page(session, query, AnalysisRow.id, window, to_entry)


def change(
    session: Session, swing_id: str, changes: Mapping[str, object], expected: _rows.Expected
) -> Swing:
    """Set role, intent or club of a swing; its analyses stay as they are.

    Raises
    ------
    RecordNotFound, StaleVersion
    """
    _rows.alter(session, SwingRow, swing_id, changes, expected)
    return get(session, swing_id)


def delete(session: Session, swing_id: str) -> None:
    """Delete a swing and all that was found in it.

    Raises
    ------
    RecordNotFound
        When there is no such swing.
    """
    session.delete(_rows.require(session, SwingRow, swing_id, for_update=True))
    session.flush()


def _kept(session: Session, wanted: ColumnElement[bool]) -> list[KeptSwing]:
    query = with_newest().where(wanted).options(undefer(AnalysisRow.content))
    found = session.execute(query.order_by(SwingRow.recorded_at, SwingRow.id))
    return [
        KeptSwing(
            swing := to_swing(row, player_id, analysis),
            to_kept_analysis(analysis, swing),
        )
        for row, player_id, analysis in found
    ]
