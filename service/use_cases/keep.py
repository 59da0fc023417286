"""Swings analysed and kept, and analysed again by a later version."""

from __future__ import annotations

from datetime import UTC, datetime

import service
from service.analysis.analyse import analyse
from service.analysis.types import SwingAnalysis
from service.intake.errors import complaining
from service.intake.recording import Limits
from service.intake.request import read_request
from service.records import Database, NewSwing, Provenance, Role, lessons, players, swings
from service.use_cases.analyse import AnalysedSwing, analyse_body
from service.use_cases.history import StoredSwing, recording_of, swing_analysis
from service.use_cases.model import served_model


def keep_swing(
    database: Database,
    lesson_id: str,
    body: bytes,
    limits: Limits,
    role: Role,
    recorded_at: datetime | None,
) -> StoredSwing:
    """Analyse a request given as JSON text, and keep it with its analysis.

    Parameters
    ----------
    recorded_at
        When the swing was made; now when ``None``.

    Raises
    ------
    MalformedJson, InvalidRequest
        When the request can't be read.
    RecordNotFound
        When there is no such lesson.
    RecordsUnavailable
        When the database fails; then nothing is kept.
    """
    with database.reading() as session:
        lessons.get(session, lesson_id)  # before the work, which is outside any transaction
    analysed = analyse_body(body, limits)
    _refuse_nul(analysed.request.client_reference)
    new = _new_swing(analysed, body, role, recorded_at or datetime.now(UTC))
    with database.writing() as session:
        kept = swings.add(
            session, lesson_id, new, analysed.analysis, _provenance(analysed.analysis)
        )
        return swing_analysis(session, kept.id)


def analyse_again(database: Database, swing_id: str) -> StoredSwing:
    """Analyse a kept swing with this version, and keep that beside what was found before.

    Raises
    ------
    RecordNotFound
        When there is no such swing, or no longer once it is analysed.
    RecordsUnavailable
        When the database fails; then nothing is kept.
    """
    analysis = _analysis_by_this_version(database, swing_id)
    with database.writing() as session:
        swings.add_analysis(session, swing_id, analysis, _provenance(analysis))
        return swing_analysis(session, swing_id)


def forget_player(database: Database, player_id: str, expected: frozenset[int] | None) -> None:
    """Delete a player with every lesson, swing, keypoint and finding.

    Parameters
    ----------
    expected
        Versions of the player for which that is fine; any when ``None``.

    Raises
    ------
    RecordNotFound, StaleVersion, RecordsUnavailable
    """
    with database.writing() as session:
        players.delete(session, player_id, expected)
    database.forget_deleted()


def _analysis_by_this_version(database: Database, swing_id: str) -> SwingAnalysis:
    with database.reading() as session:
        swing = swings.get(session, swing_id)
        body = swings.request_of(session, swing_id)
    return analyse(recording_of(read_request(body), swing), served_model())


def _new_swing(analysed: AnalysedSwing, body: bytes, role: Role, recorded_at: datetime) -> NewSwing:
    recording = analysed.recording
    return NewSwing(
        recorded_at=recorded_at,
        role=role,
        intent=recording.intent,
        club=recording.club,
        client_reference=analysed.request.client_reference,
        n_frames=len(recording.times),
        request=body,
    )


def _refuse_nul(reference: str | None) -> None:
    """PostgreSQL has no NUL in its texts."""
    with complaining() as complaints:
        if reference is not None and "\0" in reference:
            complaints.add("/client_reference", "holds a NUL character", "Send it without.")


def _provenance(analysis: SwingAnalysis) -> Provenance:
    return Provenance(service.__version__, analysis.model.version if analysis.model else None)
