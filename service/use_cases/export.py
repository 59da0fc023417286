"""Everything that is kept of a player, as one archive."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from typing import IO, Final

from sqlalchemy.orm import Session

from service.records import Lesson
from service.records.codec import encode
from service.records.keeping import lessons, players, swings
from service.records.reviews import findings as reviews
from service.records.reviews import recap_approvals, recap_edits

_QUICKLY: Final[int] = 1
"""Level of compression: a higher one takes several times as long for a little less."""


def write_archive(session: Session, player_id: str, file: IO[bytes]) -> None:
    """Write a player's data to ``file`` as a .zip archive of JSON files.

    ``player.json``; in ``lessons/ID/`` each lesson as ``lesson.json``; in its
    ``swings/ID/`` the swing as ``swing.json``, the request it came in as, keypoints and
    all, as ``request.json``, and every analysis as ``analysis-NUMBER.json``. What coaches said
    is in ``reviews.json`` of the swing, ``recap-edits.json`` and ``recap-approvals.json`` of the
    lesson, where there is any. One swing at a time is held in memory.

    Raises
    ------
    RecordNotFound
        When there is no such player.
    """
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=_QUICKLY) as archive:
        archive.writestr("player.json", encode(players.get(session, player_id)))
        for lesson in lessons.of_player(session, player_id):
            for name, content in _lesson_files(session, lesson):
                archive.writestr(f"lessons/{lesson.id}/{name}", content)
            session.expunge_all()


def _lesson_files(session: Session, lesson: Lesson) -> Iterator[tuple[str, bytes]]:
    yield "lesson.json", encode(lesson)
    edits = recap_edits.find(session, lesson.id)
    if edits is not None:
        yield "recap-edits.json", encode(edits)
    if approvals := recap_approvals.all_of(session, lesson.id):
        yield "recap-approvals.json", encode(approvals)
    for swing in swings.of_lesson(session, lesson.id):
        folder = f"swings/{swing.id}"
        yield f"{folder}/swing.json", encode(swing)
        yield f"{folder}/request.json", swings.requests_of(session, [swing.id])[swing.id]
        for number in range(1, swing.analyses + 1):
            kept = swings.get_analysis(session, swing, number)
            yield f"{folder}/analysis-{number}.json", encode(kept)
        if said := reviews.all_of(session, swing.id):
            yield f"{folder}/reviews.json", encode(said)
