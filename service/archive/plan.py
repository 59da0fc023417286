"""What is to be done with an archive, written down before anything is done.

The plan lists every file and every piece with its partition. What is done is told by the results
themselves: a partition is done when the file of its swings is there. A command that is run again
takes the plan, makes sure that the archive is still the one it was made for, and does the rest.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from service.archive.errors import (
    ArchiveError,
    ChangedArchive,
    Damaged,
    EmptyArchive,
    NotWritten,
    ResultsInUse,
)
from service.archive.listing import File, Piece, files_of, others, pieces_of

PARTITION: Final[int] = 512
"""Swings in a partition, unless told otherwise: some seconds of work, lost at most by a kill."""

_FLUSH: Final[int] = 50_000
_TOLD: Final[int] = 3
_FILES: Final = pa.schema([("path", pa.string()), ("size", pa.int64()), ("changed_ns", pa.int64())])
_PIECES: Final = pa.schema(
    [
        ("partition", pa.int64()),
        ("path", pa.string()),
        ("first", pa.int64()),
        ("count", pa.int64()),
        ("place", pa.int64()),
    ]
)


@dataclass(frozen=True)
class Header:
    """What holds for the whole plan.

    Attributes
    ----------
    digest
        Of the path, size and time of change of every file.
    created_ms
        When the plan was made, milliseconds since 1970.
    inputs
        Lines, rows and files of one swing; empty lines too.
    options
        What the results hang on beside the archive: versions and options of the command.
    passed_over
        Files that are not read, in words; empty without any.
    """

    digest: str
    created_ms: int
    files: int
    inputs: int
    partitions: int
    options: Mapping[str, Any]
    passed_over: str


class Plan:
    """The plan of one folder of results, opened."""

    def __init__(self, folder: Path, header: Header) -> None:
        self.header = header
        pieces = pq.read_table(folder / "pieces.parquet", memory_map=True)
        self._pieces = pieces
        self._ends = _ends(pieces["partition"], header.partitions)

    def pieces(self, partition: int) -> tuple[Piece, ...]:
        """What one partition is made of."""
        first = self._ends[partition - 1] if partition else 0
        rows = self._pieces.slice(first, self._ends[partition] - first).to_pylist()
        return tuple(Piece(r["path"], r["first"], r["count"], r["place"]) for r in rows)

    def first_pieces(self, most: int) -> Iterator[Piece]:
        """The first pieces of some files, which lie evenly over the archive."""
        pieces = self._pieces.filter(pc.equal(self._pieces["first"], 0))
        every = max(1, -(-pieces.num_rows // most))
        for row in pieces.take(list(range(0, pieces.num_rows, every))).to_pylist():
            yield Piece(row["path"], row["first"], row["count"], row["place"])


def open_plan(folder: Path) -> Plan | None:
    """The plan in a folder; ``None`` where none was finished.

    Raises
    ------
    Damaged
    """
    if not (folder / "plan.json").exists():
        return None
    try:
        told = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        return Plan(folder, Header(**told))
    except (OSError, ValueError, TypeError, pa.ArrowException) as error:
        raise Damaged(
            f"the plan in {folder} is damaged ({error}): tag into another folder"
        ) from error


def make_plan(archive: Path, folder: Path, partition: int, options: Mapping[str, Any]) -> Plan:
    """List an archive and write the plan down.

    Raises
    ------
    EmptyArchive
        When there is nothing in it to read.
    NotWritten
    """
    with _told_if_not_written(folder):
        folder.mkdir(parents=True, exist_ok=True)
    passed_over: Counter[str] = Counter()
    pieces = _Writer(folder / "pieces.parquet", _PIECES)
    files, digest = _Writer(folder / "files.parquet", _FILES), hashlib.blake2b(digest_size=16)
    number = held = inputs = 0
    for file in files_of(archive):
        if file.kind is None:
            passed_over[file.end] += 1
            continue
        _add_to(digest, file)
        files.add({**asdict(file), "path": file.name})
        for piece in pieces_of(archive, file, partition):
            if held and held + piece.count > partition:
                number, held = number + 1, 0
            pieces.add({"partition": number, **asdict(piece)})
            held, inputs = held + piece.count, inputs + piece.count
    pieces.close()
    files.close()
    if not inputs:
        raise EmptyArchive(
            f"{archive} holds nothing to tag: no file ends in .json, .ndjson, .jsonl (each may be "
            f"gzipped, .gz) or .parquet. {others(passed_over)}".rstrip()
        )
    header = Header(
        digest=digest.hexdigest(),
        created_ms=time.time_ns() // 1_000_000,
        files=files.count,
        inputs=inputs,
        partitions=number + 1,
        options=options,
        passed_over=others(passed_over),
    )
    write_whole(folder / "plan.json", json.dumps(asdict(header), indent=1).encode())
    return Plan(folder, header)


def drop_plan(folder: Path) -> None:
    """Take a plan back of which nothing was done, so that the next run makes its own."""
    (folder / "plan.json").unlink()


def same_plan(earlier: Path, folder: Path, options: Mapping[str, Any]) -> Plan:
    """The plan of earlier results for another folder, so that partitions hold the same swings."""
    with _told_if_not_written(folder):
        folder.mkdir(parents=True, exist_ok=True)
        for name in ("pieces.parquet", "files.parquet"):
            shutil.copyfile(earlier / name, folder / name)
    told = json.loads((earlier / "plan.json").read_text(encoding="utf-8"))
    header = Header(**{**told, "options": options})
    write_whole(folder / "plan.json", json.dumps(asdict(header), indent=1).encode())
    return Plan(folder, header)


def refuse_changes(archive: Path, folder: Path, plan: Plan) -> None:
    """Make sure that the archive is the one that the plan was made for.

    Raises
    ------
    ChangedArchive
        With some of the files that were added, taken away or changed.
    """
    digest = hashlib.blake2b(digest_size=16)
    for file in files_of(archive):
        if file.kind is not None:
            _add_to(digest, file)
    if digest.hexdigest() == plan.header.digest:
        return
    then = pq.read_table(folder / "files.parquet")
    before = {r["path"]: (r["size"], r["changed_ns"]) for r in then.to_pylist()}
    now = {f.name: (f.size, f.changed_ns) for f in files_of(archive) if f.kind is not None}
    if not before.items() & now.items():
        raise ChangedArchive(
            f"the results in {folder.parent} are of another archive: no file of {archive} is as it "
            "was when they were begun. Tag it into another folder."
        )
    told = [
        _told("added", sorted(now.keys() - before.keys())),
        _told("gone", sorted(before.keys() - now.keys())),
        _told("changed", sorted(p for p in now.keys() & before.keys() if now[p] != before[p])),
    ]
    raise ChangedArchive(
        f"{archive} has changed since the results were begun: {'; '.join(filter(None, told))}. "
        "Tag it into another folder, or put it back as it was."
    )


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Keep other commands out of a folder of results; a killed command keeps nobody out.

    Raises
    ------
    ResultsInUse
        When another command is at work there.
    ArchiveError
        When it is a file.
    """
    if folder.exists() and not folder.is_dir():
        raise ArchiveError(f"{folder} is a file, not a folder")
    try:
        import fcntl
    except ImportError:  # no such locks here: partitions are whole all the same
        yield
        return
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / ".lock").open("wb") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise ResultsInUse(f"another command is at work in {folder}") from None
        yield


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole or not at all, whatever happens.

    Raises
    ------
    NotWritten
    """
    aside = path.with_name(f".{path.name}.{os.getpid()}")
    with _told_if_not_written(path.parent):
        with aside.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        aside.replace(path)


@contextmanager
def _told_if_not_written(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise NotWritten.of(folder, error) from error


class _Writer:
    """Rows to a table, some at a time, so that a long list is never held whole."""

    def __init__(self, path: Path, schema: pa.Schema) -> None:
        self._folder = path.parent
        with _told_if_not_written(self._folder):
            self._file = pq.ParquetWriter(path, schema)
        self._schema = schema
        self._rows: list[dict[str, object]] = []
        self.count = 0

    def add(self, row: dict[str, object]) -> None:
        self._rows.append(row)
        self.count += 1
        if len(self._rows) >= _FLUSH:
            self._flush()

    def close(self) -> None:
        self._flush()
        with _told_if_not_written(self._folder):
            self._file.close()

    def _flush(self) -> None:
        with _told_if_not_written(self._folder):
            self._file.write_table(pa.Table.from_pylist(self._rows, schema=self._schema))
        self._rows = []


def _ends(partition: pa.ChunkedArray, count: int) -> list[int]:
    """Row after the last of each partition; the pieces stand in their order."""
    counts = pc.value_counts(partition)
    rows = dict(zip(counts.field(0).to_pylist(), counts.field(1).to_pylist(), strict=True))
    if len(rows) != count:
        raise ArchiveError("the plan is damaged; tag into another folder")
    ends, end = [], 0
    for number in range(count):
        end += rows[number]
        ends.append(end)
    return ends


def _add_to(digest: hashlib.blake2b, file: File) -> None:
    digest.update(f"{file.path}\0{file.size}\0{file.changed_ns}\n".encode(errors="surrogateescape"))


def _told(what: str, paths: list[str]) -> str:
    if not paths:
        return ""
    more = f" and {len(paths) - _TOLD} more" if len(paths) > _TOLD else ""
    return f"{len(paths)} {what} ({', '.join(paths[:_TOLD])}{more})"
