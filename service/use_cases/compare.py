"""Kept swings held against one another, and followed over lessons."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time

import numpy as np
from sqlalchemy.orm import Session

from service.intake.errors import json_pointer
from service.lessons import (
    Alignment,
    Comparison,
    NotComparable,
    Progress,
    Transfer,
    align,
    compare,
    follow_up,
    transfer_to_full_speed,
)
from service.records.errors import RecordNotFound
from service.records.keeping import lessons, swings
from service.use_cases.history import in_parts, reviewed, swings_by_lesson, with_times


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
        When some of the swings are not there; it says where they were asked for.
    NotComparable
        When nothing can be said about them together (see :mod:`service.lessons.errors`).
    """
    ids = (*before, *rehearsal, *after)
    try:
        newest = swings.newest(session, ids)
    except RecordNotFound as error:
        sides = {"before": before, "rehearsal": rehearsal, "after": after}
        raise RecordNotFound("swing", error.missing, _places(error.missing, sides)) from None
    kept = reviewed(session, with_times(session, newest))
    if len({swing.meta.player_id for swing in kept}) > 1:
        raise DifferentPlayers("The swings belong to different players.")
    analyses = [swing.analysis for swing in kept]
    first, others = analyses[: len(before)], analyses[len(before) :]
    slow, last = others[: len(rehearsal)], others[len(rehearsal) :]
    return ComparedSwings(
        compare(first, last),
        transfer_to_full_speed(first, slow, last) if slow else None,
        ids,
        align(analyses, np.arange(1.0, 11.0)),
    )


def _places(missing: Collection[str], sides: Mapping[str, Sequence[str]]) -> str:
    """Where in the request the swings are that are not there."""
    return ", ".join(
        json_pointer(side, place)
        for side, ids in sides.items()
        for place, swing_id in enumerate(ids)
        if swing_id in missing
    )


def progress_of(session: Session, player_id: str) -> Progress:
    """Every fault and measure over the lessons of a player.

    Raises
    ------
    RecordNotFound
        When there is no such player.
    """
    visits = lessons.of_player(session, player_id)
    return follow_up(
        [
            part
            for visit, kept in zip(visits, swings_by_lesson(session, visits), strict=True)
            for part in in_parts(datetime.combine(visit.date, time(), UTC), kept)
        ]
    )
