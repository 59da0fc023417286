"""What the results of an archive tell: fault rates by any column that it carries."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc

from service.analysis.spelling import did_you_mean
from service.archive.errors import NoSuchColumn
from service.archive.results import Results, finished_results
from service.archive.schemas import SWINGS
from service.intake.many.files import films_among
from service.lessons.rates import Counts, Summary
from service.use_cases.archive.totals import copies_in

MOST_GROUPS: Final[int] = 40

_NOT_BY: Final = ("swing", "remarks", "carried")
_WORDS: Final = ("view", "handedness", "intent", "club", "service", "model")
_DATES: Final = ("date", "recorded_at")
"""Whose first four characters are the year, where none is carried."""
_DECIMALS: Final[int] = 2
"""To which numbers are alike, such as frame rates."""
_FINDINGS: Final = ("swing", "fault", "status", "reason")


def summarise(folder: Path, by: str | None) -> Summary:
    """Sum a folder of results up, one partition at a time.

    Parameters
    ----------
    by
        A column of the swings, or the name of what the archive carried along.

    Raises
    ------
    NoResults
        When there are none, or unfinished ones.
    NoSuchColumn
        When no swing has such a column.
    """
    results = finished_results(folder)
    counts, told = Counts(), by is None
    for number in results.plan.partitions:
        swings = results.read("swings", number)
        groups = _groups(swings, by)
        told = told or groups.null_count < len(groups)
        _add_clips(counts, swings, groups)
        _add_findings(counts, swings["swing"], groups, results.read("findings", number, _FINDINGS))
        counts.add_refused(results.read("errors", number, ("path",)).num_rows)
    if not told:
        known = columns_of(results)
        meant = did_you_mean(str(by), known)
        raise NoSuchColumn(
            f"no swing of {folder} tells {by!r}{meant or ';'} there are {', '.join(known)}"
        )
    summary = counts.summary(by, MOST_GROUPS)
    passed_over, copies = results.plan.header.passed_over, copies_in(results)
    return replace(
        summary,
        passed_over=passed_over,
        films=films_among(passed_over),
        copies=copies.count if copies else 0,
    )


def columns_of(results: Results) -> list[str]:
    """What the swings of the results can be grouped by."""
    carried: set[str] = set()
    for swings in results.parts("swings", ["carried"]):
        carried.update(name for row in swings["carried"].to_pylist() for name, _ in row or ())
    dated = {"year"} if carried & set(_DATES) else set()
    return [*sorted(carried | dated), *_WORDS]


def _groups(swings: pa.Table, by: str | None) -> pa.Array:
    """The group of each swing as a text; null for those that don't tell."""
    if by is None:
        return pa.nulls(swings.num_rows, pa.string())
    if by in SWINGS.names and by not in _NOT_BY:
        column = swings[by].combine_chunks()
        if pa.types.is_floating(column.type):
            column = pc.round(column, _DECIMALS)
        return column.cast(pa.string())
    carried = swings["carried"].combine_chunks()
    if by == "year":
        dates = (pc.utf8_slice_codeunits(_carried(carried, name), 0, 4) for name in _DATES)
        return pc.coalesce(_carried(carried, by), *dates)
    return _carried(carried, by)


def _carried(column: pa.Array, name: str) -> pa.Array:
    """What swings carry under a name, without blanks about it; null where nothing is left."""
    words = pc.utf8_trim_whitespace(pc.map_lookup(column, name, "first").cast(pa.string()))
    return pc.if_else(pc.equal(words, ""), None, words)


def _add_clips(counts: Counts, swings: pa.Table, groups: pa.Array) -> None:
    clips = pa.table({"group": groups, "found": swings["swing_found"]})
    for row in clips.group_by(["group", "found"]).aggregate([([], "count_all")]).to_pylist():
        counts.add_clips(row["group"], row["found"], row["count_all"])


def _add_findings(
    counts: Counts, swings: pa.ChunkedArray, groups: pa.Array, findings: pa.Table
) -> None:
    where = pc.index_in(findings["swing"], value_set=swings.combine_chunks())
    words = {name: findings[name].cast(pa.string()) for name in ("fault", "status", "reason")}
    table = pa.table({"group": groups.take(where.combine_chunks()), **words})
    for row in table.group_by([*table.column_names]).aggregate([([], "count_all")]).to_pylist():
        counts.add_findings(
            row["group"], row["fault"], row["status"], row["reason"], row["count_all"]
        )
