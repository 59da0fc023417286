"""Kept swings held against one another, and followed over lessons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time

import numpy as np
from sqlalchemy.orm import Session

from service.lessons import (
    Alignment,
    Comparison,
    Lesson,
    LessonSwing,
    NotComparable,
    Progress,
    Transfer,
    align,
    compare,
    follow_up,
    transfer_to_full_speed,
)
from service.use_cases.history import StoredSwing, player_history, swing_analysis


class DifferentPlayers(NotComparable):
    """Raised when the swings are not all of one player."""

    code = "different_players"


@dataclass(frozen=True)
class ComparedSwings:
    """What became of a player's swing.

    ``transfers`` is ``None`` when no rehearsals were given. ``alignment`` lists the frames
    of all swings, those before first, then rehearsals, then those after, that show P1 to
    P10.
    """

    comparison: Comparison
    transfers: tuple[Transfer, ...] | None
    swing_ids: tuple[str, ...]
    alignment: Alignment


def compare_kept(
    session: Session, before: Sequence[str], rehearsal: Sequence[str], after: Sequence[str]
) -> ComparedSwings:
    """Compare kept swings of one player by their newest analyses.

    Raises
    ------
    RecordNotFound
        When one of the swings is not there.
    NotComparable
        When nothing can be said about them together (see :mod:`service.lessons.errors`).
    """
    stored = [
        [swing_analysis(session, swing_id) for swing_id in ids]
        for ids in (before, rehearsal, after)
    ]
    everything = [swing for part in stored for swing in part]
    if len({swing.meta.player_id for swing in everything}) > 1:
        raise DifferentPlayers("The swings belong to different players.")
    first, slow, last = ([lesson_swing(s) for s in part] for part in stored)
    return ComparedSwings(
        compare(first, last),
        transfer_to_full_speed(first, slow, last) if slow else None,
        tuple(swing.meta.id for swing in everything),
        align(
            [swing.analysis for swing in everything],
            [swing.recording.times for swing in everything],
            np.arange(1.0, 11.0),
        ),
    )


def progress_of(session: Session, player_id: str) -> Progress:
    """Every fault and measure over the lessons of a player.

    Raises
    ------
    RecordNotFound
        When there is no such player.
    """
    return follow_up(
        [
            Lesson(
                datetime.combine(lesson.date, time(), UTC),
                tuple(lesson_swing(swing) for swing in swings),
            )
            for lesson, swings in player_history(session, player_id)
        ]
    )


def lesson_swing(swing: StoredSwing) -> LessonSwing:
    """A kept swing as the lesson sees it."""
    return LessonSwing(swing.analysis, swing.meta.intent)
