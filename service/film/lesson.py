"""A lesson's recap made from its films alone: nothing is kept, and their frames lie under it."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Final

from service.film import FilmError
from service.film.container import look_into
from service.film.photos import photos
from service.languages import ENGLISH, Language
from service.lessons.words.wording import Wording
from service.records import KeptAnalysis, KeptSwing, Lesson, Role, Swing
from service.report.clip import Clip, Still
from service.report.pictures.still import Photo, Window
from service.report.recap import film_windows, render_html
from service.use_cases.keep import provenance
from service.use_cases.recap import Visit, recap_of

_PIXELS: Final[float] = 480.0
"""Across a still: more than two for each unit of a panel beside another."""
_MOST_BYTES: Final[int] = 20_000
"""Of a still. A page has eight at most, and a third is added where they are embedded."""
_LESSON: Final[str] = "lesson"
_PLAYER: Final[str] = "player"


def lesson_page(
    films: Sequence[tuple[Path, Clip | None]],
    player: str,
    day: date,
    language: Language = ENGLISH,
) -> str:
    """The recap of a lesson as one HTML file that needs nothing else.

    Only frames that the page draws are decoded once more.

    Parameters
    ----------
    films
        Of one player, in the order in which they were filmed, each with what was found in it or
        ``None`` where it could not be read. The first shows the player before the work, the last
        after it; a film without a swing keeps its part and is left out of the page.
    player
        The player's name; may be empty.
    language
        What the page is told in.

    Raises
    ------
    FilmError
        When none of the films gives a swing, or one can't be read any more.
    """
    clips = {
        str(n): clip for n, (_, clip) in enumerate(films) if clip and clip.analysis.swing_found
    }
    if not clips:
        raise FilmError("none of the films gives a swing, so there is no lesson to look back on.")
    roles = dict(zip(map(str, range(len(films))), _roles(len(films)), strict=True))
    start = datetime.combine(day, time(), UTC)
    lesson = Lesson(_LESSON, _PLAYER, day, None, None, start, 1)
    swings = [
        _as_kept(key, clip, roles[key], start + timedelta(minutes=int(key)))
        for key, clip in clips.items()
    ]
    recap = recap_of(player, [Visit(lesson, swings)], wording=Wording(language))
    windows = film_windows(recap, clips)
    for key, wanted in windows.items():
        clips[key] = replace(clips[key], stills=_stills(films[int(key)][0], wanted))
    return render_html(recap, clips)


def _roles(n_films: int) -> Iterator[Role]:
    """The part of each film; one alone has nothing to be held against."""
    for n in range(n_films):
        if n_films > 1 and n in (0, n_films - 1):
            yield Role.BEFORE if n == 0 else Role.AFTER
        else:
            yield Role.OTHER


def _as_kept(key: str, clip: Clip, role: Role, when: datetime) -> KeptSwing:
    """A swing as the recap takes it, though no database holds it."""
    found = clip.analysis
    meta = Swing(
        id=key,
        lesson_id=_LESSON,
        player_id=_PLAYER,
        created=when,
        recorded_at=when,
        role=role,
        intent=found.intent,
        club=found.club,
        client_reference=clip.reference,
        n_frames=len(found.times),
        frame_rate=found.quality.frame_rate,
        analyses=1,
        swing_found=found.swing_found,
        view=found.view.value if found.view else None,
        handedness=found.handedness.value if found.handedness else None,
        version=1,
    )
    return KeptSwing(meta, KeptAnalysis(key, key, 1, when, provenance(found), found))


def _stills(path: Path, windows: Mapping[int, Window]) -> dict[int, Still]:
    taken = photos(look_into(path), windows, _PIXELS, _MOST_BYTES)
    return {frame: _still(photo) for frame, photo in taken.items()}


def _still(photo: Photo) -> Still:
    uri = f"data:image/jpeg;base64,{base64.b64encode(photo.jpeg).decode()}"
    part = photo.window
    return Still(uri, part.width, part.height, part.left, part.top)
