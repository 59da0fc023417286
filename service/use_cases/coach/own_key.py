"""The picture of a coach's own key."""

from __future__ import annotations

from sqlalchemy.orm import Session

from service.records.errors import RecordNotFound
from service.records.keeping import swings
from service.report.pictures.coach_drawing import draw_own_key
from service.use_cases.history import clips_of
from service.use_cases.recap import build_recap


def own_key_picture(session: Session, lesson_id: str, place: int) -> str:
    """The picture of a coach's own key as SVG text.

    Parameters
    ----------
    place
        The key's place among all keys of the recap, from 1.

    Raises
    ------
    RecordNotFound
        When there is no such lesson or key, or no swing that shows its position.
    """
    recap = build_recap(session, lesson_id)
    key = next((placed.key for placed in recap.story.own_keys if placed.place == place), None)
    swing_id = recap.drawn.own_pictures.get(place)
    if key is None or swing_id is None:
        raise RecordNotFound("picture of a key")
    clips = clips_of(session, swings.newest(session, [swing_id]))
    return draw_own_key(clips[swing_id], key)
