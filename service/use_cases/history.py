"""Kept swings with what was found, and the clips that they came in as."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import groupby

from sqlalchemy.orm import Session

from service.analysis.types import Intent, Review, SwingRecording
from service.intake.recording import Limits, to_recording
from service.intake.request import read_request
from service.languages import Language
from service.lessons import Lesson as LessonAnalyses
from service.lessons import Part
from service.lessons.coach.reviews import with_reviews
from service.lessons.words.wording import Wording
from service.records import KeptSwing, Lesson, Role, Swing
from service.records.keeping import players, swings
from service.records.reviews import findings as reviews
from service.report.clip import Clip


def swing_analysis(session: Session, swing_id: str) -> KeptSwing:
    """One swing with its newest analysis and the reviews of its findings.

    Raises
    ------
    RecordNotFound
        When there is no such swing.
    """
    return reviewed(session, with_times(session, swings.newest(session, [swing_id])))[0]


def numbered_analysis(session: Session, swing_id: str, number: int) -> KeptSwing:
    """One swing with one of its analyses and the reviews of its findings.

    Raises
    ------
    RecordNotFound
        When there is no such swing or analysis.
    """
    meta = swings.get(session, swing_id)
    kept = swings.get_analysis(session, meta, number)
    return reviewed(session, with_times(session, [KeptSwing(meta, kept)]))[0]


def swings_by_lesson(session: Session, lessons: Sequence[Lesson]) -> list[list[KeptSwing]]:
    """For each lesson its swings as recorded, each with its newest analysis and its reviews."""
    ids = [lesson.id for lesson in lessons]
    kept = _with(swings.newest_of_lessons(session, ids), reviews.of_lessons(session, ids))
    by_lesson = groupby(sorted(kept, key=_lesson_of), key=_lesson_of)
    found = {lesson_id: list(group) for lesson_id, group in by_lesson}
    return [found.get(lesson.id, []) for lesson in lessons]


def reviewed(session: Session, kept: Sequence[KeptSwing]) -> list[KeptSwing]:
    """The same swings with what coaches said beside what was found."""
    return _with(kept, reviews.of_swings(session, [swing.id for swing in kept]))


def _with(kept: Sequence[KeptSwing], said: Mapping[str, Mapping[str, Review]]) -> list[KeptSwing]:
    return [
        replace(
            swing, kept=replace(swing.kept, analysis=with_reviews(swing.analysis, said[swing.id]))
        )
        if swing.id in said
        else swing
        for swing in kept
    ]


def in_parts(when: datetime, kept: Sequence[KeptSwing]) -> list[LessonAnalyses]:
    """A visit for following up: as the player came, and a second later as the player left.

    One whole where no swings at full speed are marked as before and as after the work. Swings
    between the two belong to neither.
    """
    before, after = (
        tuple(
            s.analysis
            for s in kept
            if s.meta.role is role
            and s.analysis.swing_found
            and s.analysis.intent is Intent.FULL_SPEED
        )
        for role in (Role.BEFORE, Role.AFTER)
    )
    if not before or not after:
        return [LessonAnalyses(when, tuple(s.analysis for s in kept))]
    later = when + timedelta(seconds=1)
    return [LessonAnalyses(when, before, Part.START), LessonAnalyses(later, after, Part.END)]


def clips_of(session: Session, kept: Sequence[KeptSwing]) -> dict[str, Clip]:
    """Kept swings ready to draw, by their ids; each request is read once.

    Raises
    ------
    RecordNotFound
        When one of the swings is no longer there.
    """
    bodies = swings.requests_of(session, [swing.id for swing in kept])
    return {
        swing.id: Clip(
            swing.meta.client_reference,
            recording_of(bodies[swing.id], swing.meta),
            swing.analysis,
        )
        for swing in kept
    }


def kept_clip(session: Session, swing_id: str) -> Clip:
    """A kept swing ready to draw, with its newest analysis.

    Raises
    ------
    RecordNotFound
        When there is no such swing.
    """
    return clips_of(session, swings.newest(session, [swing_id]))[swing_id]


def wording_for(session: Session, swing_id: str, language: Language) -> Wording:
    """How things are said to the player of a kept swing.

    Raises
    ------
    RecordNotFound
        When there is no such swing.
    """
    player = players.get(session, swings.get(session, swing_id).player_id)
    return Wording(language, player.height_cm)


def recording_of(body: bytes, swing: Swing) -> SwingRecording:
    """The clip of a kept request, with the intent and club that are kept by now.

    Today's limits don't bind what was once taken.
    """
    limits = Limits(swing.n_frames, swing.n_frames)
    recording = to_recording(read_request(body), limits)
    return replace(recording, intent=swing.intent, club=swing.club)


def with_times(session: Session, kept: Sequence[KeptSwing]) -> list[KeptSwing]:
    """The same swings, analyses kept before they carried their frame times completed."""
    clips = clips_of(session, [swing for swing in kept if not swing.analysis.times.size])
    return [_completed(swing, clips.get(swing.id)) for swing in kept]


def _completed(swing: KeptSwing, clip: Clip | None) -> KeptSwing:
    if clip is None:
        return swing
    analysis = replace(swing.analysis, times=clip.recording.times)
    return replace(swing, kept=replace(swing.kept, analysis=analysis))


def _lesson_of(swing: KeptSwing) -> str:
    return swing.meta.lesson_id
