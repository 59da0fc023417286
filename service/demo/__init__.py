"""A demonstration: a made-up swing of an invented player from both views, and a lesson."""

from __future__ import annotations

import gzip
import json
from datetime import UTC, date, datetime, timedelta
from importlib import resources
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from service.records import Database, Role, upgrade
from service.records.keeping import lessons, players
from service.report.clip import Clip
from service.report.pictures.picture import draw_flagged
from service.report.table import swing_table
from service.use_cases.analyse import Analyser
from service.use_cases.keep import KeepSwing, keep_swing
from service.use_cases.recap import Presentation, recap_page

CLIPS: Final[tuple[str, ...]] = ("down_the_line", "face_on")
LESSON: Final[str] = "lesson"


def clip_file(name: str) -> str:
    """Name of the file in this package that holds a clip, or the lesson."""
    return f"{name}.json.gz"


def clip_body(name: str) -> bytes:
    """One of :data:`CLIPS` as a request in JSON text; :data:`LESSON` holds many, by visit."""
    return gzip.decompress((resources.files(__name__) / clip_file(name)).read_bytes())


def run(out: Path, analyser: Analyser) -> int:
    """Analyse the clips as a request would be, print the results and draw them.

    Parameters
    ----------
    out
        Folder for one picture a clip, ``flagged_NAME.svg``, and for the recap of a lesson,
        ``recap.html``; made when it is not there.

    Returns
    -------
    int
        0, the exit status.
    """
    out.mkdir(parents=True, exist_ok=True)
    pictures = [_show(name, analyser.analyse_body(clip_body(name)), out) for name in CLIPS]
    print("The frames in which the faults show most:")
    for picture in pictures:
        print(f"  {picture}")
    page = out / "recap.html"
    page.write_text(lesson_page(analyser), encoding="utf-8")
    print(f"\nThe recap of a lesson, for a browser:\n  {page}")
    return 0


def keep_lessons(database: Database, analyser: Analyser) -> str:
    """Keep the invented player with both visits; returns the id of the last one."""
    lesson = json.loads(clip_body(LESSON))
    with database.writing() as session:
        player = players.add(session, lesson["player"])
    return [_keep_visit(database, analyser, player.id, visit) for visit in lesson["visits"]][-1]


def _keep_visit(
    database: Database, analyser: Analyser, player_id: str, visit: dict[str, Any]
) -> str:
    day = date.fromisoformat(visit["date"])
    with database.writing() as session:
        lesson = lessons.add(session, player_id, day, visit["title"], visit["coach_note"])
    start = datetime.combine(day, datetime.min.time(), UTC)
    for minute, swing in enumerate(visit["swings"]):
        body = json.dumps(swing["request"]).encode()
        when = start + timedelta(minutes=minute)
        keep_swing(database, analyser, KeepSwing(lesson.id, body, Role(swing["role"]), when))
    return lesson.id


def lesson_page(analyser: Analyser, presentation: Presentation | None = None) -> str:
    """The recap of the last visit, kept in a database that is thrown away afterwards."""
    with TemporaryDirectory() as folder:
        database = Database(f"sqlite:///{folder}/demo.db")
        upgrade(database)
        lesson_id = keep_lessons(database, analyser)
        with database.reading() as session:
            page = recap_page(session, lesson_id, presentation)
        database.close()
    return page


def _show(name: str, clip: Clip, out: Path) -> Path:
    """Print one analysis and write its picture; returns the picture's path."""
    heading = f"{name.replace('_', ' ').capitalize()}: {clip.reference}"
    print(f"{heading}\n{'=' * len(heading)}\n\n{swing_table(clip.analysis)}")
    path = out / f"flagged_{name}.svg"
    path.write_text(draw_flagged(clip), encoding="utf-8")
    return path
