"""What an archive may hold, what can't be read of it, and why."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from service.api.http.problems import PROBLEMS
from service.archive.errors import CODES
from service.archive.listing import File, Kind, pieces_of
from service.archive.reading import ReadSwing, Reading, Refused
from service.intake.recording import Limits
from tests.archive.made import ndjson, request, short_request
from tests.intake.test_formats import CASES

LONGEST = 1 << 20


def read(archive: Path, most: int = 100, **options: Any) -> list[ReadSwing | Refused]:
    """Every swing of a folder."""
    reading = Reading(archive, Limits(12, 1000), LONGEST, options.get("assumed", {}))
    found: list[ReadSwing | Refused] = []
    for path in sorted(p for p in archive.rglob("*") if p.is_file()):
        file = File(path.relative_to(archive).as_posix(), 0, 0)
        for piece in pieces_of(archive, file, most):
            found += reading.swings(piece)
    return found
