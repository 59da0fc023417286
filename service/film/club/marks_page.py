"""A page on which a coach marks the club on a film's own frames, one HTML file without a network.

Browsers can't step through a film frame by frame nor play every phone's films, so the frames
themselves are in the page.
"""

from __future__ import annotations

import base64
from functools import cache
from pathlib import Path
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from service.film import FilmError, marks_name
from service.film.container import Frame, frames_of, look_into, to_jpeg

LONGEST_SIDE: Final[int] = 960
"""Pixels: one is a five-hundredth of a player who fills most of the picture."""
MOST_FRAMES: Final[int] = 400
"""Frames in a page, some 25 MB of them."""
_QUALITY: Final[int] = 5


def write_marks_page(path: Path, page: Path, start: float = 0.0, end: float = float("inf")) -> int:
    """Write the page of one film.

    Parameters
    ----------
    start, end
        Seconds of playing time between which frames are shown.

    Returns
    -------
    int
        How many frames it shows.

    Raises
    ------
    FilmError
        When the film can't be read, or has no or more than :data:`MOST_FRAMES` frames there.
    """
    film = look_into(path)
    shown: list[dict[str, Any]] = []
    size = (0, 0)
    for frame in frames_of(film, LONGEST_SIDE):
        if frame.time > end:
            break
        if frame.time < start:
            continue
        if len(shown) == MOST_FRAMES:
            raise FilmError(
                f"has more than {MOST_FRAMES} frames from {start:g} s on. Give --start and --end "
                "in seconds, from before the takeaway to after the finish."
            )
        shown.append(_shown(frame))
        size = frame.image.shape[1], frame.image.shape[0]
    if not shown:
        raise FilmError(f"has no frame between --start and --end, {start:g} s and {end:g} s")
    told = {
        "film": path.name,
        "saveAs": marks_name(path),
        "imageSize": {"width": size[0], "height": size[1]},
        "frames": shown,
    }
    page.write_text(_template().render(name=path.name, told=told), encoding="utf-8")
    return len(shown)


def _shown(frame: Frame) -> dict[str, Any]:
    jpeg = base64.b64encode(to_jpeg(frame.image, _QUALITY)).decode()
    return {
        "frame": frame.index,
        "time": round(frame.time, 4),
        "image": f"data:image/jpeg;base64,{jpeg}",
    }


@cache
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("service.film"), autoescape=True, undefined=StrictUndefined
    )
    return environment.get_template("marks.html")
