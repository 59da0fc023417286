"""What became of an archive, counted from the results themselves."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field, replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from service.archive.files.fingerprints import SEEN
from service.archive.planning.plan import How
from service.archive.results import MARK, Results, part, read_file
from service.intake.many.files import Kind, kind_of

_COLUMNS = ("swing_found", "kept_as", "not_kept", "carried")
_WHY = ("code", "pointer", "fix")
_PLACE = ("path", "first", "fingerprint")
_FIRST_PART = r"^(/[^/]*).*"
_FIRST = pc.ScalarAggregateOptions(skip_nulls=False)


@dataclass(frozen=True)
class Refusals:
    """Inputs that could not be read for the same reason, and the first of them.

    Attributes
    ----------
    field
        Pointer to the field of the request that is wrong; empty for the whole.
    files
        The files in which they are.
    path, line, message
        Of the first.
    """

    code: str
    field: str
    fix: str
    count: int
    files: frozenset[str]
    path: str
    line: int | None
    message: str


@dataclass(frozen=True)
class Totals:
    """Counts of a folder of results.

    Attributes
    ----------
    swings, found
        Clips that could be read, and those of them in which a golf swing was found.
    refused
        What could not be read, the commonest reason first.
    kept, not_kept
        Swings that are in the service's records, and those that were to be, by the reason.
    carried
        How many carry something along, by its name.
    """

    swings: int
    found: int
    refused: list[Refusals]
    kept: int = 0
    not_kept: Counter[str] = field(default_factory=Counter)
    carried: Counter[str] = field(default_factory=Counter)


def totals_of(results: Results) -> Totals:
    """Count what is in results."""
    swings = found = kept = 0
    not_kept, carried = Counter[str](), Counter[str]()
    for table in results.parts("swings", _COLUMNS):
        swings += table.num_rows
        found += pc.sum(table["swing_found"]).as_py() or 0
        kept += table.num_rows - table["kept_as"].null_count
        not_kept += counted(table["not_kept"])
        carried += counted(pa.chunked_array([c.keys for c in table["carried"].chunks], pa.string()))
    return Totals(swings, found, refused_in(results, "errors"), kept, not_kept, carried)


def refused_in(results: Results, table: str) -> list[Refusals]:
    """What could not be read, by reason, the commonest first."""
    found: dict[tuple[str, ...], Refusals] = {}
    for path in results.files(table):
        for each in _refusals(pq.read_table(path, partitioning=None)):
            why = (each.code, each.field, each.fix, re.sub(r"\d+", "", each.message))
            before = found.setdefault(why, replace(each, count=0))
            together = before.files | each.files
            found[why] = replace(before, count=before.count + each.count, files=together)
    return sorted(found.values(), key=lambda each: -each.count)


def _refusals(errors: pa.Table) -> list[Refusals]:
    """Those that say the same, whatever their numbers."""
    words = {name: errors[name].cast(pa.string()) for name in _WHY}
    words["pointer"] = pc.replace_substring_regex(words["pointer"], _FIRST_PART, r"\1")
    words["alike"] = pc.replace_substring_regex(errors["message"], r"\d+", "")
    table = pa.table({**words, **{n: errors[n] for n in ("path", "line", "message")}})
    # The first of a group is known only where one thread goes through them.
    groups = table.group_by([*words], use_threads=False)
    first = [(name, "first", _FIRST) for name in ("path", "line", "message")]
    return [
        Refusals(
            row["code"],
            row["pointer"],
            row["fix"],
            row["count_all"],
            frozenset(row["path_distinct"]),
            row["path_first"],
            row["line_first"],
            row["message_first"],
        )
        for row in groups.aggregate([([], "count_all"), ("path", "distinct"), *first]).to_pylist()
    ]


@dataclass(frozen=True)
class Copies:
    """Swings whose text stands in the archive before them, byte by byte; where the first is.

    Attributes
    ----------
    line
        From 1; ``None`` in a file of one swing.
    """

    count: int
    path: str
    line: int | None


def copies_in(results: Results) -> Copies | None:
    """The swings that are copies of others; ``None`` without any.

    Those of tables are not looked at: a fingerprint there is of a whole row group.

    Raises
    ------
    Damaged
    """
    told = [_texts(read_file(path, (*_PLACE, MARK))) for path in results.files(SEEN)]
    if not told:
        return None
    texts = pa.concat_tables(told)
    seen_as = texts["fingerprint"].to_numpy()
    _, first = np.unique(seen_as, return_index=True)
    again = np.ones(seen_as.size, dtype=bool)
    again[first] = False
    if not again.any():
        return None
    row = texts.slice(int(np.argmax(again)), 1).to_pylist()[0]
    line = row["first"] + 1 if kind_of(row["path"]) is Kind.LINES else None
    return Copies(int(again.sum()), row["path"], line)


def _texts(seen: pa.Table) -> pa.Table:
    """Of the inputs of a partition those that are the text of one swing which could be read."""
    paths = seen["path"].cast(pa.string())
    tables = [p for p in pc.unique(paths).to_pylist() if kind_of(p) is Kind.TABLE]
    is_text = pc.invert(pc.is_in(paths, pa.array(tables, pa.string())))
    return seen.select(_PLACE).filter(pc.and_(is_text, pc.greater(seen[MARK], 0)))


def converted_in(results: Results, table: str) -> int:
    """How many swings were written as tables."""
    return sum(pq.read_metadata(path).num_rows for path in results.files(table))


def taken_over_in(results: Results) -> int:
    """How many inputs were tagged by an earlier run: empty lines are none, as in other counts."""
    plan = results.plan
    kept = (number for number in plan.partitions if plan.how(number) is not How.NEW)
    return sum(pq.read_metadata(part(plan.folder, SEEN, number)).num_rows for number in kept)


def counted(column: pa.ChunkedArray) -> Counter[str]:
    """How often each word stands in a column; nulls are not counted."""
    counts = pc.value_counts(column.cast(pa.string()).drop_null())
    return Counter(dict(zip(counts.field(0).to_pylist(), counts.field(1).to_pylist(), strict=True)))
