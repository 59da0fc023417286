"""The tables of an archive's results as files for a spreadsheet."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from service.archive.results import Results, finished_results
from service.archive.schemas import RESULTS
from service.report.spreadsheet import as_csv, head

_CARRIED: Final[str] = "carried"
_EVIDENCE: Final[str] = "evidence"
_MOST_CARRIED: Final[int] = 200
"""Columns for what the archive carried along, or files may come out that nothing opens."""

_DIGITS: Final[int] = 6
"""Of a number: more than any measure or clock is good for."""


def write_spreadsheets(results: Path, folder: Path) -> list[Path]:
    """Write each table as one file of comma-separated values, a partition at a time.

    What the archive carried along has a column for each name, the evidence of a finding some for
    each measure. Of more than :data:`_MOST_CARRIED` names the rest stands as JSON in ``carried``.

    Raises
    ------
    NoResults, Damaged
    OSError
        When a file can't be written.
    """
    found = finished_results(results)
    folder.mkdir(parents=True, exist_ok=True)
    carried = _names_carried(found)
    paths = [folder / f"{name}.csv" for name in RESULTS]
    for path, name in zip(paths, RESULTS, strict=True):
        columns = [
            column for each in RESULTS[name].names for column in _spread(each, carried, found)
        ]
        with path.open("wb") as file:
            file.write(head(columns))
            for part in found.parts(name):
                rows = (_flat(row, carried) for row in part.to_pylist())
                file.write(as_csv([row.get(column) for column in columns] for row in rows))
    return paths


def _spread(column: str, carried: Mapping[str, str], found: Results) -> list[str]:
    """The columns in place of one of a table."""
    if column == _CARRIED:
        return [*carried.values(), *([_CARRIED] if len(carried) == _MOST_CARRIED else [])]
    if column == _EVIDENCE:
        (parts,) = (field.type.value_type for field in RESULTS["findings"] if field.name == column)
        numbers = range(1, _most_evidence(found) + 1)
        return [_of_evidence(number, part.name) for number in numbers for part in parts]
    return [column]


def _names_carried(found: Results) -> dict[str, str]:
    """Columns of what was carried along, by its names, in the order in which they come."""
    names = dict.fromkeys(
        name
        for part in found.parts("swings", [_CARRIED])
        for row in part[_CARRIED].to_pylist()
        for name, _ in row or ()
    )
    taken = RESULTS["swings"].names
    return {n: f"{_CARRIED}_{n}" if n in taken else n for n in [*names][:_MOST_CARRIED]}


def _most_evidence(found: Results) -> int:
    """Of any finding."""
    return max(
        (
            len(row or ())
            for part in found.parts("findings", [_EVIDENCE])
            for row in part[_EVIDENCE].to_pylist()
        ),
        default=0,
    )


def _of_evidence(number: int, part: str) -> str:
    return f"{_EVIDENCE}_{number}_{part}"


def _flat(row: Mapping[str, Any], carried: Mapping[str, str]) -> dict[str, object]:
    """A row with a word or a number in each column."""
    return {name: _plain(value) for name, value in _cells(row, carried)}


def _cells(row: Mapping[str, Any], carried: Mapping[str, str]) -> Iterator[tuple[str, object]]:
    for name, value in row.items():
        if name == _CARRIED:
            told = dict(value or ())
            rest = {n: text for n, text in told.items() if n not in carried}
            yield from ((carried[n], text) for n, text in told.items() if n in carried)
            yield _CARRIED, json.dumps(rest, ensure_ascii=False) if rest else None
        elif name == _EVIDENCE:
            for number, each in enumerate(value or (), start=1):
                yield from ((_of_evidence(number, part), told) for part, told in each.items())
        else:
            yield name, value


def _plain(value: object) -> object:
    """A value as one word or number.

    >>> _plain(0.42341621879), _plain(["cut", "zoom"]), _plain([])
    (0.423416, 'cut; zoom', None)
    """
    if isinstance(value, list):
        return "; ".join(value) or None
    return float(f"{value:.{_DIGITS}g}") if isinstance(value, float) else value
