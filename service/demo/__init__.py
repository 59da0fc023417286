"""A demonstration: a made-up swing of an invented player from both views, and a lesson."""

from __future__ import annotations

import gzip
import json
from datetime import date
from importlib import resources
from pathlib import Path
from typing import Any, Final

import service
from service.analysis.faults import CAUTIONS
from service.intake.recording import Limits
from service.records import Provenance, Role
from service.report.picture import draw_flagged
from service.report.recap import Recap, render_html
from service.report.table import swing_table
from service.settings import Settings
from service.use_cases.analyse import AnalysedSwing, analyse_body
from service.use_cases.recap import Visit, VisitSwing, recap_of

CLIPS: Final[tuple[str, ...]] = ("down_the_line", "face_on")
LESSON: Final[str] = "lesson"


def clip_file(name: str) -> str:
    """Name of the file in this package that holds a clip, or the lesson."""
    return f"{name}.json.gz"


def clip_body(name: str) -> bytes:
    """One of :data:`CLIPS` as a request in JSON text; :data:`LESSON` holds many, by visit."""
    return gzip.decompress((resources.files(__name__) / clip_file(name)).read_bytes())


def run(out: Path) -> int:
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
    settings = Settings()
    limits = Limits(settings.min_frames, settings.max_frames)
    out.mkdir(parents=True, exist_ok=True)
    pictures = [_show(name, analyse_body(clip_body(name), limits), out) for name in CLIPS]
    print("The frames in which the faults show most:")
    for picture in pictures:
        print(f"  {picture}")
    page = out / "recap.html"
    page.write_text(render_html(lesson_recap(limits)), encoding="utf-8")
    print(f"\nThe recap of a lesson, for a browser:\n  {page}")
    print("\nBefore you work on any of this:")
    for caution in CAUTIONS:
        print(f"  {caution}")
    return 0


def lesson_recap(limits: Limits) -> Recap:
    """The recap of the invented player's second visit."""
    return recap_of(*lesson_visits(limits))


def lesson_visits(limits: Limits) -> tuple[str, list[Visit]]:
    """The invented player's name and two visits, every swing analysed."""
    lesson = json.loads(clip_body(LESSON))
    return lesson["player"], [_visit(visit, limits) for visit in lesson["visits"]]


def _visit(visit: dict[str, Any], limits: Limits) -> Visit:
    return Visit(
        date.fromisoformat(visit["date"]),
        visit["title"],
        visit["coach_note"],
        tuple(
            _visit_swing(str(number), swing, limits)
            for number, swing in enumerate(visit["swings"], start=1)
        ),
    )


def _visit_swing(number: str, swing: dict[str, Any], limits: Limits) -> VisitSwing:
    clip = analyse_body(json.dumps(swing["request"]).encode(), limits)
    model = clip.analysis.model
    return VisitSwing(
        id=number,
        role=Role(swing["role"]),
        club=clip.recording.club,
        intent=clip.recording.intent,
        clip=clip,
        made_by=Provenance(service.__version__, model.version if model else None),
    )


def _show(name: str, swing: AnalysedSwing, out: Path) -> Path:
    """Print one analysis and write its picture; returns the picture's path."""
    heading = f"{name.replace('_', ' ').capitalize()}: {swing.request.client_reference}"
    print(f"{heading}\n{'=' * len(heading)}\n\n{swing_table(swing.analysis)}")
    path = out / f"flagged_{name}.svg"
    path.write_text(draw_flagged(swing.recording, swing.analysis), encoding="utf-8")
    return path
