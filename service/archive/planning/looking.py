"""The files of an archive against those of the plan before, by their looks.

What tells that a file is as it was: its size, its two times and its number on the disk. The time of
the content alone doesn't, as copying and unpacking set it back; the other time of a file, that of
its state, nobody sets, so that with both the same nobody has written to it. It must lie before the
plan was made, as a file may be written to twice within a tick of the clock. Wherever they differ,
in a copied archive in every file, its content decides: the fingerprints taken when it was tagged.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Final, Protocol

import pyarrow as pa

from service.archive.files.listing import SHUT, File, files_of, pieces_of
from service.archive.planning.pieces import Pieces
from service.archive.planning.plan import How, Plan
from service.archive.planning.writing import TableWriter
from service.intake.many.files import is_utf8

_TICK_NS: Final[int] = 2_000_000_000
"""Coarsest clock of a file system, nanoseconds (FAT's; from memory)."""


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
class Found:
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


def look_through(wanted: Wanted, before: Plan | None, files: TableWriter, pieces: Pieces) -> Found:
    """List the archive, with new pieces of what was added."""
    found, shut = Found(), []
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
    return is_never_opened(file) or 0 < file.status_ns < trusted_ns


def is_never_opened(file: File) -> bool:
    """Whether a file is told as what can't be read without a look into it."""
    return file.size == SHUT or not is_utf8(file.path)
