"""An archive's swings as they are read."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from service.archive.files.listing import File, files_of, pieces_of
from service.archive.files.reading import Reading
from service.intake.many.reading import Reader, ReadSwing, Refused
from service.intake.recording import Limits

LONGEST = 1 << 20


def read(archive: Path, most: int = 100, **options: Any) -> list[ReadSwing | Refused]:
    """Every swing of a folder."""
    reader = Reader(Limits(12, 1000), LONGEST, options.get("assumed", {}))
    reading = Reading(archive, reader)
    found: list[ReadSwing | Refused] = []
    for path in sorted(p for p in archive.rglob("*") if p.is_file()):
        file = File(path.relative_to(archive).as_posix(), 0)
        for piece in pieces_of(archive, file, most):
            found += reading.swings(piece)
    return found


def listed(archive: Path, longest: int = LONGEST) -> list[ReadSwing | Refused]:
    reading = Reading(archive, Reader(Limits(12, 1000), longest, {"fps": 30.0}))
    pieces = (piece for file in files_of(archive) for piece in pieces_of(archive, file, 100))
    return [swing for piece in pieces for swing in reading.swings(piece)]
