"""A plan made from a listing: all of an archive at first, later what has changed and what is left.

What tells that a file is as it was: its size, its two times and its number on the disk. The time of
the content alone doesn't, as copying and unpacking set it back; the other time of a file, that of
its state, nobody sets, so that with both the same nobody has written to it. It must lie before the
plan was made, as a file may be written to twice within a tick of the clock. Wherever they differ,
in a copied archive in every file, its content decides: the fingerprints taken when it was tagged.
"""

from __future__ import annotations

import secrets
import time
from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, Protocol

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from service.archive.errors import ChangedArchive, EmptyArchive
from service.archive.planning.listing import SHUT, File, Piece, files_of, others, pieces_of
from service.archive.planning.plan import (
    CHANGES,
    FILES,
    PIECES,
    PLAN,
    Header,
    How,
    Plan,
)
from service.archive.planning.units import Mask, Numbers, Units, units_of
from service.archive.planning.writing import TableWriter, told_if_not_written
from service.intake.many.files import is_utf8

_TICK_NS: Final[int] = 2_000_000_000
"""Coarsest clock of a file system, nanoseconds (FAT's; from memory)."""
_TOLD: Final[int] = 3
_OPEN: Final[int] = 8
"""Partitions whose inputs are held at once."""
_CHANGES: Final = pa.schema([("path", pa.string()), ("what", pa.string())])


class Base(Protocol):
    """What was tagged before."""

    @property
    def plan(self) -> Plan:
        """Its plan."""

    def how(self, partition: int) -> How:
        """How a partition of it comes about, if nothing of it has changed."""

    def seen(self, partition: int) -> pa.Table | None:
        """What was read of a partition, or is to be cut; ``None`` where nothing was yet."""


@dataclass(frozen=True)
class Wanted:
    """What a plan is made for.

    Attributes
    ----------
    most
        Swings in a partition.
    longest
        Most bytes of one swing as JSON text.
    options
        As of :class:`service.archive.planning.plan.Header`.
    """

    archive: Path
    out: Path
    most: int
    longest: int
    options: Mapping[str, Any]


@dataclass
class _Found:
    """Files against those of the base.

    Attributes
    ----------
    touched
        Those that may have changed, by name.
    doubtful
        Those among them of which only the clock is too coarse to say.
    """

    touched: dict[str, File] = field(default_factory=dict)
    doubtful: set[str] = field(default_factory=set)
    added: list[str] = field(default_factory=list)
    changed: set[str] = field(default_factory=set)
    gone: list[str] = field(default_factory=list)
    passed_over: Counter[str] = field(default_factory=Counter)


@dataclass
class _Claim:
    """What is left of a file in a partition, and whether that is all it was."""

    pieces: list[Piece]
    is_whole: bool


class _Pieces:
    """Pieces written down: new ones put into partitions, others with their own."""

    def __init__(self, path: Path, number: int, most: int) -> None:
        self._writer, self._most = TableWriter(path, PIECES), most
        self._number, self._held = number, 0
        self._whole: list[pa.Table] = []
        self.inputs = self.kept = 0

    def add_new(self, piece: Piece) -> None:
        if self._held and self._held + piece.count > self._most:
            self._number, self._held = self._number + 1, 0
        self._held += piece.count
        self.add(self._number, How.NEW, piece)

    def add(self, number: int, how: How, piece: Piece) -> None:
        self._writer.add({"partition": number, "how": how.value, **asdict(piece)})
        self._count(how, piece.count)

    def add_whole(self, how: How, rows: pa.Table) -> None:
        at = PIECES.get_field_index("how")
        words = pa.array([how.value] * rows.num_rows, pa.string())
        self._whole.append(rows.set_column(at, "how", words))
        self._count(how, pc.sum(rows["count"]).as_py())

    def close(self) -> None:
        if self._whole:
            self._writer.add_table(pa.concat_tables(self._whole))
        self._writer.close()

    def _count(self, how: How, inputs: int) -> None:
        self.inputs += inputs
        self.kept += 0 if how is How.NEW else inputs


@dataclass(frozen=True)
class Draft:
    """A plan whose tables are written.

    Attributes
    ----------
    stale
        Partitions of which what was written aside for the plan of the base holds no more.
    """

    header: Header
    stale: frozenset[int] = frozenset()


def draft(wanted: Wanted, base: Base | None) -> Draft | None:
    """List an archive and draft the plan for it; ``None`` where that of the base is still right.

    Raises
    ------
    ChangedArchive
        When it is another archive than that of the base.
    EmptyArchive
        When there is nothing in it to read.
    NotWritten
    """
    planned_ms = time.time_ns() // 1_000_000
    tables = secrets.token_hex(4)
    folder = wanted.out / PLAN / tables
    with told_if_not_written(wanted.out / PLAN):
        folder.mkdir(parents=True)
    free = max(base.plan.partitions, default=-1) + 1 if base else 0
    pieces = _Pieces(folder / "pieces.parquet", free, wanted.most)
    files = TableWriter(folder / "files.parquet", FILES)
    before = base.plan if base else None
    found = _look_through(wanted, before, files, pieces)
    files.close()
    stale: set[int] = set()
    try:
        if not files.count:
            raise EmptyArchive(
                f"{wanted.archive} holds nothing to tag: no file ends in .json, .ndjson, .jsonl "
                f"(each may be gzipped, .gz) or .parquet. {others(found.passed_over)}".rstrip()
            )
        if base:
            _refuse_another(wanted, base.plan, found)
            stale = _take_over(wanted, base, found, pieces)
    finally:
        pieces.close()
    if base and base.plan.folder == wanted.out and _is_the_same(base, found):
        return None
    _write_changes(folder / CHANGES, before, found)
    header = _header(wanted, before, found, planned_ms, tables)
    header = replace(header, files=files.count, inputs=pieces.inputs, kept=pieces.kept)
    return Draft(header, frozenset(stale))


def _header(
    wanted: Wanted, before: Plan | None, found: _Found, planned_ms: int, tables: str
) -> Header:
    """All of a header but its counts."""
    ours = before.header if before and before.folder == wanted.out else None
    goes_on = ours is not None and before is not None and not before.is_finished
    counts = {"added": found.added, "changed": found.changed, "gone": found.gone}
    earlier, gone = (ours.changes, ours.gone) if ours and goes_on else ({}, ())
    return Header(
        name=ours.name if ours else secrets.token_hex(16),
        number=1 if ours is None else ours.number + (not goes_on),
        tables=tables,
        begun_ms=ours.begun_ms if ours else planned_ms,
        planned_ms=planned_ms,
        files=0,
        inputs=0,
        kept=0,
        changes={what: len(names) + earlier.get(what, 0) for what, names in counts.items()},
        options=wanted.options,
        passed_over=others(found.passed_over),
        gone=[*gone, *found.gone][:_TOLD],
    )


def _look_through(
    wanted: Wanted, before: Plan | None, files: TableWriter, pieces: _Pieces
) -> _Found:
    """List the archive, with new pieces of what was added."""
    found, shut = _Found(), []
    left = before.files() if before else {}
    trusted_ns = before.header.planned_ms * 1_000_000 - _TICK_NS if before else 0
    for file in files_of(wanted.archive):
        if file.kind is None:
            found.passed_over[file.end] += 1
            continue
        files.add({**asdict(file), "path": file.name})
        if file.size == SHUT:
            shut.append(file.name)
        then = left.pop(file.name, None)
        if then is None:
            found.added += [file.name] if before else []
            for piece in pieces_of(wanted.archive, file, wanted.most):
                pieces.add_new(piece)
        elif not _looks_the_same(file, then):
            found.touched[file.name] = file
        elif not _can_be_told_by_looks(file, trusted_ns):
            found.touched[file.name] = file
            found.doubtful.add(file.name)
    for then in left.values():
        if then.path.startswith(tuple(shut)):  # it may well be there still
            files.add(asdict(then))
        else:
            found.gone.append(then.path)
    return found


def _looks_the_same(file: File, then: File) -> bool:
    if SHUT in (file.size, then.size):
        return file.size == then.size
    stamp = (file.size, file.changed_ns, file.status_ns, file.inode)
    return stamp == (then.size, then.changed_ns, then.status_ns, then.inode)


def _can_be_told_by_looks(file: File, trusted_ns: int) -> bool:
    return _is_never_opened(file) or 0 < file.status_ns < trusted_ns


def _is_never_opened(file: File) -> bool:
    return file.size == SHUT or not is_utf8(file.path)


def _refuse_another(wanted: Wanted, before: Plan, found: _Found) -> None:
    if 2 * len(found.gone) <= before.header.files:
        return
    raise ChangedArchive(
        f"the results in {before.folder} are of another archive, or most of it is not there: of "
        f"{before.header.files:,} files {_some(found.gone)} are gone from {wanted.archive}. Tag it "
        "into another folder, or see that all of it can be reached."
    )


def _some(paths: list[str]) -> str:
    more = f" and {len(paths) - _TOLD:,} more" if len(paths) > _TOLD else ""
    return f"{len(paths):,} ({', '.join(paths[:_TOLD])}{more})"


def _take_over(wanted: Wanted, base: Base, found: _Found, pieces: _Pieces) -> set[int]:
    """Write down what stays of the partitions of the base; which are stale where written aside."""
    table = base.plan.table
    moved = pa.array([*found.touched, *found.gone], pa.string())
    rows = table.select(["partition", "path"]).filter(pc.is_in(table["path"], value_set=moved))
    where: dict[str, list[int]] = {}
    for row in rows.to_pylist():
        where.setdefault(row["path"], []).append(row["partition"])
    claims = _claims(wanted, base, found, where, pieces)
    affected = {number for numbers in where.values() for number in numbers}
    gone, stale = set(found.gone), set()
    for number in base.plan.partitions:
        if number not in affected:
            pieces.add_whole(base.how(number), base.plan.rows(number))
        elif not _take_over_some(base, number, claims.get(number, {}), gone, pieces):
            stale.add(number)
    return stale


def _take_over_some(
    base: Base, number: int, claims: Mapping[str, _Claim], gone: set[str], pieces: _Pieces
) -> bool:
    """Write down what stays of a partition; whether what is written of it aside still holds.

    Parameters
    ----------
    claims
        For every file that may have changed.
    """
    how, before = base.how(number), base.plan.pieces(number)
    left = [piece for piece in before if piece.path not in claims and piece.path not in gone]
    left += [piece for claim in claims.values() for piece in claim.pieces]
    is_whole = all(claim.is_whole for claim in claims.values())
    is_whole &= all(piece.path not in gone for piece in before)
    if how is How.KEPT and not is_whole:
        how = How.CUT
    for piece in left:
        pieces.add(number, how, piece)
    return is_whole and how is not How.CUT


def _claims(
    wanted: Wanted, base: Base, found: _Found, where: Mapping[str, list[int]], pieces: _Pieces
) -> dict[int, dict[str, _Claim]]:
    """What partitions keep of files that may have changed; new pieces of what is kept by none."""
    claims: dict[int, dict[str, _Claim]] = {}
    seen = lru_cache(maxsize=_OPEN)(base.seen)
    for name, file in found.touched.items():
        if _is_never_opened(file):
            free = pieces_of(wanted.archive, file, wanted.most)
            for number in where.get(name, ()):
                claims.setdefault(number, {})[name] = _Claim([], is_whole=False)
        else:
            units = units_of(wanted.archive, file, wanted.longest)
            left = np.ones(units.first.size, dtype=bool)
            for number in dict.fromkeys(where.get(name, ())):
                inputs = seen(number)
                if inputs is None and name in found.doubtful:  # nothing of it was read yet
                    claim, mine = _unread(base.plan, number, units)
                else:
                    claim, mine = _claim(inputs, units, left)
                left &= ~mine
                claims.setdefault(number, {})[name] = claim
            free = units.pieces(left, wanted.most)
        for piece in free:
            found.changed.add(name)
            pieces.add_new(piece)
    for of_files in claims.values():
        found.changed.update(name for name, claim in of_files.items() if not claim.is_whole)
    return claims


def _claim(inputs: pa.Table | None, units: Units, left: Mask) -> tuple[_Claim, Mask]:
    """What a partition that was read keeps of a file, of what no other has kept."""
    first, seen_as = _read_of(inputs, units.path)
    mine = left & units.those_of(first, seen_as)
    is_whole = int(mine.sum()) == np.unique(first).size > 0
    return _Claim([*units.pieces(mine)], is_whole), mine


def _unread(plan: Plan, number: int, units: Units) -> tuple[_Claim, Mask]:
    """What a partition of which nothing was read yet holds of a file: all that it held."""
    pieces = [piece for piece in plan.pieces(number) if piece.path == units.path]
    mine = np.zeros(units.first.size, dtype=bool)
    for piece in pieces:
        mine |= (piece.first <= units.first) & (units.first < piece.first + piece.count)
    return _Claim(pieces, is_whole=True), mine


def _read_of(seen: pa.Table | None, path: str) -> tuple[Numbers, Numbers]:
    """Places and fingerprints of what was read of a file."""
    if seen is None:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    rows = seen.filter(pc.equal(seen["path"].cast(pa.string()), path))
    return rows["first"].to_numpy(), rows["fingerprint"].to_numpy()


def _is_the_same(base: Base, found: _Found) -> bool:
    if found.touched or found.gone or found.added:
        return False
    plan = base.plan
    return all(
        base.how(number) is (How.KEPT if plan.is_finished else plan.how(number))
        for number in plan.partitions
    )


def _write_changes(path: Path, before: Plan | None, found: _Found) -> None:
    changes = TableWriter(path, _CHANGES)
    if before and before.folder == path.parents[2] and not before.is_finished:
        changes.add_table(pq.read_table(before.tables / CHANGES))
    named = {"added": found.added, "changed": sorted(found.changed), "gone": found.gone}
    for what, names in named.items():
        for name in names:
            changes.add({"path": name, "what": what})
    changes.close()
