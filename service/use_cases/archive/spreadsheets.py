"""The tables of an archive's results as files for a spreadsheet."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

import pyarrow as pa

from service.archive.results import finished_results
from service.archive.schemas import RESULTS
from service.report.spreadsheet import as_csv

_MARK: Final[bytes] = b"\xef\xbb\xbf"
"""By which spreadsheets tell UTF-8."""


def write_spreadsheets(results: Path, folder: Path) -> list[Path]:
    """Write each table as one file of comma-separated values, a partition at a time.

    Lists and what the archive carried along stand as JSON in their cells.

    Raises
    ------
    NoResults, Damaged
    OSError
        When a file can't be written.
    """
    found = finished_results(results)
    folder.mkdir(parents=True, exist_ok=True)
    paths = [folder / f"{name}.csv" for name in RESULTS]
    for path, (name, schema) in zip(paths, RESULTS.items(), strict=True):
        with path.open("wb") as file:
            file.write(_MARK + as_csv([schema.names]))
            for part in found.parts(name):
                file.write(as_csv(_rows(part)))
    return paths


def _rows(part: pa.Table) -> Iterator[Iterable[object]]:
    columns = [part[name].to_pylist() for name in part.column_names]
    return ([_plain(value) for value in row] for row in zip(*columns, strict=True))


def _plain(value: object) -> object:
    if not isinstance(value, list):
        return value
    is_map = all(isinstance(each, tuple) for each in value)
    return json.dumps(dict(value) if is_map else value, ensure_ascii=False) if value else None
