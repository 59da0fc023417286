"""The results of a batch as a table: one row a line, some columns a fault; CSV and Parquet."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any, Final

from pydantic_core import from_json, to_json

from service.analysis.faults import CATALOGUE
from service.report import spreadsheet

_OF_LINE: Final[tuple[str, ...]] = ("line", "path", "path_line", "client_reference", "status")
_OF_FINDING: Final[dict[str, str]] = {
    "status": "string",
    "score": "double",
    "confidence": "double",
    "severity": "double",
    "severity_unit": "string",
    "grade": "string",
    "shows_most_frame": "int64",
    "shows_most_s": "double",
    "reason": "string",
}
"""What a finding tells in a table, each with its kind, under the names of an archive's tables;
``reason`` is the code of why it can't be told."""
COLUMNS: Final[dict[str, str]] = {
    "line": "int64",
    "path": "string",
    "path_line": "int64",
    "client_reference": "string",
    "status": "int64",
    "carried": "string",
    "swing_id": "string",
    "problem": "string",
    "problem_detail": "string",
    "swing_found": "bool",
    "reason": "string",
    "view": "string",
    "handedness": "string",
    **{f"{fault}.{name}": kind for fault in CATALOGUE for name, kind in _OF_FINDING.items()},
}
"""Names and kinds of the columns, those of the findings by fault."""


def rows(lines: bytes) -> Iterator[dict[str, Any]]:
    """Rows of a table from lines of JSON."""
    return (_row(from_json(line)) for line in lines.splitlines())


def csv_head() -> bytes:
    """What a table of comma-separated values (RFC 4180) begins with."""
    return spreadsheet.head(COLUMNS)


def as_csv(lines: bytes) -> bytes:
    """Lines of JSON as lines of comma-separated values."""
    return spreadsheet.as_csv([row.get(name) for name in COLUMNS] for row in rows(lines))


class ParquetParts:
    """A table as a Parquet file that comes in parts, one row group for each piece of results."""

    def __init__(self) -> None:
        import pyarrow as pa
        import pyarrow.parquet as pq

        self._pa = pa
        self._schema = pa.schema([(name, kind) for name, kind in COLUMNS.items()])
        self._sink = _Drained()
        self._writer = pq.ParquetWriter(self._sink, self._schema, compression="zstd")

    def add(self, lines: bytes) -> bytes:
        """What the file goes on with, for some more lines of JSON."""
        found = list(rows(lines))
        if found:
            self._writer.write_table(self._pa.Table.from_pylist(found, self._schema))
        return self._sink.drain()

    def end(self) -> bytes:
        """What the file ends with."""
        self._writer.close()
        return self._sink.drain()


class _Drained(io.RawIOBase):
    """Gathers what is written until it is drained."""

    def __init__(self) -> None:
        self._held = bytearray()
        self._place = 0

    def writable(self) -> bool:
        """It is."""
        return True

    def write(self, data: Any) -> int:
        """Hold some more."""
        part = bytes(data)
        self._held += part
        self._place += len(part)
        return len(part)

    def tell(self) -> int:
        """How much was written in all."""
        return self._place

    def drain(self) -> bytes:
        """What was written since the last time."""
        part, self._held = bytes(self._held), bytearray()
        return part


def _row(line: dict[str, Any]) -> dict[str, Any]:
    analysis, problem = line.get("analysis") or {}, line.get("problem") or {}
    row = {name: line.get(name) for name in (*_OF_LINE, "swing_id")}
    if carried := line.get("carried"):
        row["carried"] = to_json(carried).decode()
    row |= {"problem": problem.get("type"), "problem_detail": _detail(problem)}
    row["swing_found"] = analysis.get("swing_found")
    row["reason"] = (analysis.get("reason") or {}).get("code")
    for name in ("view", "handedness"):
        row[name] = (analysis.get(name) or {}).get("value")
    for finding in analysis.get("findings") or ():
        at, reason = finding.get("shows_most") or {}, finding.get("reason") or {}
        told = finding | {"reason": reason.get("code")}
        told |= {"shows_most_frame": at.get("frame"), "shows_most_s": at.get("time_s")}
        row |= {f"{finding['fault']}.{name}": told.get(name) for name in _OF_FINDING}
    return row


def _detail(problem: dict[str, Any]) -> str | None:
    """What is wrong in words; a table has no room for a list of errors beside it.

    >>> _detail({"detail": "2 things ...", "errors": [
    ...     {"pointer": "/fps", "problem": "is missing", "fix": "Send it."}] * 2})
    '/fps is missing. Send it. And 1 more.'
    """
    if not (errors := problem.get("errors")):
        return problem.get("detail")
    first = errors[0]
    told = f"{first['pointer']} {first['problem'].rstrip('.')}. {first['fix']}"
    return told if len(errors) == 1 else f"{told} And {len(errors) - 1} more."
