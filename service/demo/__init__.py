"""A demonstration: one made-up swing of an invented player, seen from both views."""

from __future__ import annotations

import gzip
from importlib import resources
from pathlib import Path
from typing import Final

from service.analysis.faults import CAUTIONS
from service.application.analysis import AnalysedSwing, analyse_body
from service.application.recording import Limits
from service.report.picture import draw_flagged
from service.report.table import swing_table
from service.settings import Settings

CLIPS: Final[tuple[str, ...]] = ("down_the_line", "face_on")


def clip_file(name: str) -> str:
    """Name of the file in this package that holds a clip."""
    return f"{name}.json.gz"


def clip_body(name: str) -> bytes:
    """One of :data:`CLIPS` as a request in JSON text."""
    return gzip.decompress((resources.files(__name__) / clip_file(name)).read_bytes())


def run(out: Path) -> int:
    """Analyse the clips as a request would be, print the results and draw them.

    Parameters
    ----------
    out
        Folder for one picture a clip, ``flagged_NAME.svg``; made when it is not there.

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
    print("\nBefore you work on any of this:")
    for caution in CAUTIONS:
        print(f"  {caution}")
    return 0


def _show(name: str, swing: AnalysedSwing, out: Path) -> Path:
    """Print one analysis and write its picture; returns the picture's path."""
    heading = f"{name.replace('_', ' ').capitalize()}: {swing.request.client_reference}"
    print(f"{heading}\n{'=' * len(heading)}\n\n{swing_table(swing.analysis)}")
    path = out / f"flagged_{name}.svg"
    path.write_text(draw_flagged(swing.recording, swing.analysis), encoding="utf-8")
    return path
