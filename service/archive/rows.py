"""What was found, as rows of the tables of the results."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import pyarrow as pa

import service
from service.analysis.types import Finding, Measurement, Position, Status, SwingAnalysis
from service.archive.schemas import RESULTS
from service.intake.many.reading import Origin, ReadSwing, Refused

_ID_BYTES: Final[int] = 10


def swing_key(origin: Origin) -> str:
    """What names a swing in every table and in every run.

    >>> swing_key(Origin("2024/may.ndjson", 3)) == swing_key(Origin("2024/may.ndjson", 4))
    False
    """
    text = f"{origin.path}\n{origin.line or ''}"
    return hashlib.blake2b(text.encode(), digest_size=_ID_BYTES).hexdigest()


@dataclass(frozen=True)
class Kept:
    """The id under which a swing is in the service's records, or why it is not there."""

    swing_id: str | None = None
    reason: str | None = None


class Rows:
    """The rows of one partition."""

    def __init__(self) -> None:
        self._rows: dict[str, list[tuple[Any, ...]]] = {table: [] for table in RESULTS}

    def add(
        self, swing: ReadSwing, analysis: SwingAnalysis, kept: Kept | None = None
    ) -> Mapping[str, int]:
        """Add what was found in one swing; how many rows of each table that is."""
        key = swing_key(swing.origin)
        self._rows["swings"].append(_swing(key, swing, analysis, kept or Kept()))
        self._rows["findings"] += [_finding(key, finding) for finding in analysis.findings]
        self._rows["measures"] += [_measure(key, each) for each in analysis.measures]
        return {
            "swings": 1,
            "findings": len(analysis.findings),
            "measures": len(analysis.measures),
        }

    def add_refused(self, refused: Refused) -> Mapping[str, int]:
        """Add what could not be read; how many rows of each table that is."""
        failure, origin = refused.failure, refused.origin
        self._rows["errors"].append(
            (
                origin.path,
                origin.line,
                refused.reference,
                failure.code,
                failure.message,
                failure.pointer,
                failure.fix,
                failure.more,
            )
        )
        return {"errors": 1}

    def tables(self) -> dict[str, pa.Table]:
        """The tables, by name, in the order in which they are to be written."""
        return {table: _table(self._rows[table], schema) for table, schema in RESULTS.items()}


def _table(rows: Sequence[tuple[Any, ...]], schema: pa.Schema) -> pa.Table:
    """Rows as a table; each must have a value for every column."""
    columns = zip(*rows, strict=True) if rows else [()] * len(schema)
    arrays = [pa.array(c, f.type) for c, f in zip(columns, schema, strict=True)]
    return pa.Table.from_arrays(arrays, schema=schema)


def _swing(key: str, swing: ReadSwing, analysis: SwingAnalysis, kept: Kept) -> tuple[Any, ...]:
    view, hand, stopped = analysis.view, analysis.handedness, analysis.stopped_at
    positions = analysis.positions or _NO_POSITIONS
    return (
        key,
        swing.origin.path,
        swing.origin.line,
        swing.request.client_reference,
        analysis.swing_found,
        analysis.reason and analysis.reason.code,
        view and view.value.value,
        view and view.confidence,
        view and view.given,
        hand and hand.value.value,
        hand and hand.confidence,
        hand and hand.given,
        analysis.intent.value,
        analysis.club and analysis.club.value,
        len(analysis.times),
        analysis.quality.frame_rate,
        *(p and p.time for p in positions),
        *(p and p.uncertainty for p in positions),
        *(p and p.source.value for p in positions),
        stopped and stopped.asked,
        stopped and stopped.value,
        stopped and stopped.uncertainty,
        [remark.code for remark in analysis.quality.remarks],
        kept.swing_id,
        kept.reason,
        service.__version__,
        analysis.model and analysis.model.version,
        list(swing.carried.items()),
    )


_NO_POSITIONS: Final[tuple[Position | None, ...]] = (None,) * 10


def _finding(key: str, finding: Finding) -> tuple[Any, ...]:
    most = finding.shows_most
    return (
        key,
        finding.fault,
        finding.status.value,
        finding.score,
        finding.confidence,
        finding.chance,
        finding.severity,
        finding.severity_unit,
        finding.grade and finding.grade.value,
        most and most.frame,
        most and most.time,
        most and most.position,
        finding.reason.code if finding.reason and finding.status is _NOT_ASSESSABLE else None,
        [
            {
                "measure": each.measure,
                "value": each.value,
                "uncertainty": each.uncertainty,
                "threshold": each.threshold,
                "direction": each.direction,
            }
            for each in finding.evidence
        ],
    )


_NOT_ASSESSABLE: Final = Status.NOT_ASSESSABLE


def _measure(key: str, measurement: Measurement) -> tuple[Any, ...]:
    return (
        key,
        measurement.name,
        measurement.at,
        measurement.unit,
        measurement.value,
        measurement.uncertainty,
        measurement.as_measured,
        measurement.reason and measurement.reason.code,
    )
