"""Which swings are wanted, with their lesson and newest analysis, and rows as what is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date
from typing import Any, TypeVar

from sqlalchemy import Select, and_, exists, select

from service.analysis.types import Club, Status, View
from service.records.codec import decode
from service.records.entities import AnalysisEntry, KeptAnalysis, Provenance, Swing
from service.records.tables import AnalysisRow, FindingRow, LessonRow, SwingRow

Counted = TypeVar("Counted", bound=Select[*tuple[Any, ...]])
_Swings = Select[SwingRow, str, AnalysisRow]


@dataclass(frozen=True)
class SwingFilter:
    """Which swings are wanted; ``None`` wants any.

    ``fault`` and ``status`` ask for one finding of the newest analysis that has both.
    ``first_day`` and ``last_day`` bound the date of the lesson, both included.
    """

    player_id: str | None = None
    lesson_id: str | None = None
    fault: str | None = None
    status: Status | None = None
    view: View | None = None
    club: Club | None = None
    first_day: date | None = None
    last_day: date | None = None


def with_newest() -> _Swings:
    """Swings with their player and newest analysis."""
    return joined(select(SwingRow, LessonRow.player_id, AnalysisRow))


def joined(query: Counted) -> Counted:
    """A query that begins with swings, joined with their lesson and newest analysis."""
    newest = and_(AnalysisRow.swing_id == SwingRow.id, AnalysisRow.number == SwingRow.analyses)
    return (
        query.select_from(SwingRow)
        .join(LessonRow, LessonRow.id == SwingRow.lesson_id)
        .join(AnalysisRow, newest)
    )


def filtered(query: Counted, wanted: SwingFilter) -> Counted:
    """A query on swings with their lesson and newest analysis, kept to those that are wanted."""
    pairs = (
        (LessonRow.player_id, wanted.player_id),
        (SwingRow.lesson_id, wanted.lesson_id),
        (AnalysisRow.view, wanted.view),
        (SwingRow.club, wanted.club),
    )
    query = query.where(*(column == value for column, value in pairs if value is not None))
    if wanted.first_day is not None:
        query = query.where(LessonRow.date >= wanted.first_day)
    if wanted.last_day is not None:
        query = query.where(LessonRow.date <= wanted.last_day)
    finding = ((FindingRow.fault, wanted.fault), (FindingRow.status, wanted.status))
    conditions = [column == value for column, value in finding if value is not None]
    if conditions:
        query = query.where(exists().where(FindingRow.analysis_id == AnalysisRow.id, *conditions))
    return query


def to_swing(row: SwingRow, player_id: str, newest: AnalysisRow) -> Swing:
    """A row of :func:`with_newest` as a swing."""
    return Swing(
        id=row.id,
        lesson_id=row.lesson_id,
        player_id=player_id,
        created=row.created,
        recorded_at=row.recorded_at.astimezone(UTC),
        role=row.role,
        intent=row.intent,
        club=row.club,
        client_reference=row.client_reference,
        n_frames=row.n_frames,
        frame_rate=newest.frame_rate,
        analyses=row.analyses,
        swing_found=newest.swing_found,
        view=newest.view,
        handedness=newest.handedness,
        version=row.version,
    )


def to_entry(row: AnalysisRow) -> AnalysisEntry:
    """An analysis without what it found."""
    made_by = Provenance(row.service_version, row.model_version)
    return AnalysisEntry(row.id, row.swing_id, row.number, row.created, made_by)


def to_kept_analysis(row: AnalysisRow, swing: Swing) -> KeptAnalysis:
    """An analysis with what it found, of a row whose content was asked for."""
    return KeptAnalysis(
        **vars(to_entry(row)), analysis=decode(row.content, swing.intent, swing.club)
    )
