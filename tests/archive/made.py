"""Small archives of simulated swings, and short ways to tag them and to read what was found."""

from __future__ import annotations

import gzip
import json
from functools import cache
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq

from service.analysis.types import View
from service.archive.schemas import RESULTS
from service.settings import Settings
from service.use_cases.archive.tag import TagArchive, tag_archive
from tests.records.kept import swing_body

RULES_ONLY = Settings(model_dir=Path("no-models-here"), database_url="")
"""Without trained models: what most of these tests look at doesn't hang on one."""
MODELS = Settings(database_url="")
"""With them."""


@cache
def request(seed: int = 1, view: View = View.FACE_ON) -> dict[str, Any]:
    """A swing as a request."""
    return json.loads(swing_body(seed, view))


def short_request(frames: int = 24) -> dict[str, Any]:
    """The still beginning of a swing, in which none is found: fast to analyse."""
    whole = request()
    return {
        **whole,
        "keypoints": whole["keypoints"][:frames],
        "timestamps": whole["timestamps"][:frames],
    }


def ndjson(*requests: dict[str, Any]) -> bytes:
    """Requests as lines."""
    return b"".join(json.dumps(each).encode() + b"\n" for each in requests)


def small_archive(folder: Path) -> Path:
    """Two swings alone, one of them packed, and four in lines, with what else is known of them."""
    (folder / "coach=Ada").mkdir(parents=True)
    (folder / "coach=Ada" / "one.json").write_bytes(json.dumps(request()).encode())
    (folder / "two.json.gz").write_bytes(gzip.compress(json.dumps(short_request()).encode()))
    lines = [
        {**request(2, View.DOWN_THE_LINE), "player": "Ada Fairway", "age": 41},
        {**short_request(), "player": " Ada Fairway", "client_reference": "still"},
        {**request(3), "player": "Bob Rough", "date": "2024-05-17"},
        {**short_request(30), "player": " "},
    ]
    (folder / "lines.ndjson").write_bytes(ndjson(*lines))
    return folder


def tag(archive: Path, out: Path, settings: Settings = RULES_ONLY, **options: Any) -> Path:
    """Tag an archive in this process."""
    wanted = TagArchive(archive, out, options.pop("assumed", {}), **options)
    tag_archive(wanted, settings, lambda left, more: None)
    return out


def rows(folder: Path, table: str = "swings") -> list[dict[str, Any]]:
    """The rows of a table of the results, in the order of the archive."""
    found = []
    for path in sorted((folder / table).glob("part-*.parquet")):
        found += pq.read_table(path, partitioning=None).to_pylist()
    return found


def everything(folder: Path) -> dict[str, list[dict[str, Any]]]:
    """Every row of every table."""
    return {table: rows(folder, table) for table in RESULTS}
