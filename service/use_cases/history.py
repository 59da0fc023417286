"""Kept swings with their recording and what was found, as comparisons and recaps need them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from sqlalchemy.orm import Session

from service.analysis.types import SwingAnalysis, SwingRecording
from service.intake.recording import Limits, to_recording
from service.intake.request import SwingRequest, read_request
from service.records import KeptAnalysis, Lesson, Swing, lessons, swings
from service.use_cases.analyse import AnalysedSwing


@dataclass(frozen=True)
class StoredSwing:
    """A kept swing with one of its analyses.

    Attributes
    ----------
    meta
        Who, when, in which role, and so on.
    kept
        The analysis with its number and what made it.
    body
        The request it came in as, JSON text.
    """

    meta: Swing
    kept: KeptAnalysis
    body: bytes

    @property
    def analysis(self) -> SwingAnalysis:
        """What was found."""
        return self.kept.analysis

    @cached_property
    def request(self) -> SwingRequest:
        """The request, read when first asked for."""
        return read_request(self.body)

    @cached_property
    def recording(self) -> SwingRecording:
        """The clip, read when first asked for."""
        return recording_of(self.request, self.meta)

    @property
    def analysed(self) -> AnalysedSwing:
        """The swing as it stood when it was analysed."""
        return AnalysedSwing(self.request, self.recording, self.analysis)


def recording_of(request: SwingRequest, swing: Swing) -> SwingRecording:
    """The clip of a kept swing; today's limits don't bind what was once taken."""
    return to_recording(request, Limits(swing.n_frames, swing.n_frames))


def swing_analysis(session: Session, swing_id: str) -> StoredSwing:
    """One swing with its newest analysis.

    Raises
    ------
    RecordNotFound
        When there is no such swing.
    """
    return _stored(session, swings.get(session, swing_id))


def numbered_analysis(session: Session, swing_id: str, number: int) -> StoredSwing:
    """One swing with one of its analyses.

    Raises
    ------
    RecordNotFound
        When there is no such swing or analysis.
    """
    meta = swings.get(session, swing_id)
    kept = swings.get_analysis(session, swing_id, number)
    return StoredSwing(meta, kept, swings.request_of(session, swing_id))


def lesson_swings(session: Session, lesson_id: str) -> list[StoredSwing]:
    """All swings of a lesson as they were recorded, each with its newest analysis.

    Raises
    ------
    RecordNotFound
        When there is no such lesson.
    """
    return [_stored(session, swing) for swing in swings.of_lesson(session, lesson_id)]


def player_history(session: Session, player_id: str) -> list[tuple[Lesson, list[StoredSwing]]]:
    """All lessons of a player by date, each with its swings.

    Raises
    ------
    RecordNotFound
        When there is no such player.
    """
    return [
        (lesson, lesson_swings(session, lesson.id))
        for lesson in lessons.of_player(session, player_id)
    ]


def _stored(session: Session, swing: Swing) -> StoredSwing:
    return numbered_analysis(session, swing.id, swing.analyses)
