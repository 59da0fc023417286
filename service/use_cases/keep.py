"""Swings analysed and kept, and analysed again by a later version."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from sqlalchemy.orm import Session

import service
from service.analysis.types import Level, Remark, SwingAnalysis
from service.intake.errors import complaining
from service.observing.traces import step
from service.records import Database, KeptSwing, NewSwing, Player, Provenance, Role, Swing
from service.records.keeping import lessons, players, swings
from service.use_cases.analyse import Analyser
from service.use_cases.history import recording_of, reviewed


@dataclass(frozen=True)
class KeepSwing:
    """A swing to be analysed and kept.

    Attributes
    ----------
    body
        The request as JSON text.
    recorded_at
        When the swing was made; now when ``None``.
    """

    lesson_id: str
    body: bytes
    role: Role = Role.OTHER
    recorded_at: datetime | None = None


Also = Callable[[Session, KeptSwing], None]
"""What else is done in the transaction that keeps a swing."""


def keep_swing(
    database: Database, analyser: Analyser, wanted: KeepSwing, also: Also | None = None
) -> KeptSwing:
    """Analyse a swing, and keep it with its analysis.

    Raises
    ------
    MalformedJson, InvalidRequest
        When the request can't be read.
    RecordNotFound
        When there is no such lesson.
    ConsentMissing
        When keeping it takes the player's consent and there is none.
    RecordsUnavailable
        When the database fails; then nothing is kept, but see
        :class:`~service.records.errors.PerhapsWritten`.
    """
    with database.reading() as session:  # before the work, outside any transaction
        lesson = lessons.get(session, wanted.lesson_id)
        player = players.get(session, lesson.player_id)
        players.require_consent(session, player)
    clip = analyser.analyse_body(wanted.body, wanted.role.intent)
    refuse_nul(clip.reference)
    recorded_at = wanted.recorded_at or datetime.now(UTC)
    new = NewSwing(recorded_at, wanted.role, clip.reference, wanted.body)
    analysis = told_against_record(clip.analysis, player)
    with step("store"), database.writing() as session:
        kept = swings.add(session, wanted.lesson_id, new, analysis, provenance(analysis))
        if also is not None:
            also(session, kept)
    return kept


def analyse_again(
    database: Database, analyser: Analyser, swing_id: str, also: Also | None = None
) -> KeptSwing:
    """Analyse a kept swing with this version, and keep that beside what was found before.

    Raises
    ------
    RecordNotFound
        When there is no such swing, or no longer once it is analysed.
    ConsentMissing
        As :func:`keep_swing`.
    RecordsUnavailable
        When the database fails; then nothing is kept, but see
        :class:`~service.records.errors.PerhapsWritten`.
    """
    with database.reading() as session:
        swing = swings.get(session, swing_id)
        player = players.get(session, swing.player_id)
        players.require_consent(session, player)
        body = swings.requests_of(session, [swing_id])[swing_id]
    found = analyser.analyse(recording_of(body, swing))
    analysis = told_against_record(found, player)
    with step("store"), database.writing() as session:
        added = swings.add_analysis(session, swing_id, analysis, provenance(analysis))
        (kept,) = reviewed(session, [added])
        if also is not None:
            also(session, kept)
    return kept


def change_kept_swing(
    database: Database,
    analyser: Analyser,
    swing_id: str,
    changes: Mapping[str, object],
    expected: frozenset[int] | None,
) -> Swing:
    """Change role, intent or club of a kept swing.

    What a swing was meant to be and the club bear on what is found, so that a change of either
    has the swing analysed again.

    Parameters
    ----------
    expected
        Versions of the swing for which that is fine; any when ``None``.

    Raises
    ------
    RecordNotFound, StaleVersion, ConsentMissing, RecordsUnavailable
    """
    with database.reading() as session:
        swing = swings.get(session, swing_id)
        player = players.get(session, swing.player_id)
        players.require_consent(session, player)
        changed = replace(swing, **changes)  # type: ignore[arg-type]  # the fields of a request
        anew = (changed.intent, changed.club) != (swing.intent, swing.club)
        body = swings.requests_of(session, [swing_id])[swing_id] if anew else b""
    found = analyser.analyse(recording_of(body, changed)) if anew else None
    with database.writing() as session:
        kept = swings.change(session, swing_id, changes, expected)
        if found is not None:
            analysis = told_against_record(found, player)
            kept = swings.add_analysis(session, swing_id, analysis, provenance(analysis)).meta
    return kept


def told_against_record(analysis: SwingAnalysis, player: Player) -> SwingAnalysis:
    """The analysis, with a remark where its handedness is not the one kept of the player."""
    seen, kept = analysis.handedness, player.handedness
    if seen is None or kept is None or seen.value is kept:
        return analysis
    how = "was sent as" if seen.given else "moves as"
    remark = Remark(
        "handedness_contradicts_record",
        Level.WARNING,
        f"The player is kept as {kept.value}-handed, but {how} {seen.value.value}-handed here.",
        "Send handedness, or correct the player's record; if the film is mirrored, as selfie "
        "cameras write it, mirror it back.",
    )
    remarks = (*analysis.quality.remarks, remark)
    return replace(analysis, quality=replace(analysis.quality, remarks=remarks))


def provenance(analysis: SwingAnalysis) -> Provenance:
    """What made an analysis of this process: this version and the model it served."""
    return Provenance(service.__version__, analysis.model.version if analysis.model else None)


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


def forget_lesson(database: Database, lesson_id: str, expected: frozenset[int] | None) -> None:
    """Delete a lesson with its swings, as :func:`forget_player` does a player."""
    with database.writing() as session:
        lessons.delete(session, lesson_id, expected)
    database.forget_deleted()


def forget_swing(database: Database, swing_id: str) -> None:
    """Delete a swing with its keypoints and findings, as :func:`forget_player` does a player."""
    with database.writing() as session:
        swings.delete(session, swing_id)
    database.forget_deleted()


def refuse_nul(reference: str | None) -> None:
    """Refuse a NUL character, which PostgreSQL has not in its texts.

    Raises
    ------
    InvalidRequest
    """
    with complaining() as complaints:
        if reference is not None and "\0" in reference:
            complaints.add("/client_reference", "holds a NUL character", "Send it without.")
