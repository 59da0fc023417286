"""Films: keypoints out of a film file, and its own stills under what was found.

Everything heavy (the container's reader, the pose model) is imported where it is used, so that the
base install and the service over HTTP do without. The extra ``video`` brings it.
"""

from __future__ import annotations

from pathlib import Path

from service.intake.many.files import FILMS


class FilmError(Exception):
    """Raised when a film can't be analysed; the message says why and what to do."""


def is_film(path: Path) -> bool:
    """Whether a file's name is that of a film."""
    return path.suffix.lower() in FILMS


def marks_name(film: Path) -> str:
    """Name of the file with the marks of a film's club."""
    return f"{film.name}.marks.json"
