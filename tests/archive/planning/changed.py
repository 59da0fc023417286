"""An archive that changes between two runs, and what was tagged of it."""

from __future__ import annotations

import gzip
import json
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest

from service.archive.table import clips_table
from service.use_cases.archive import tag as tagging
from tests.archive.made import everything, ndjson, short_request

Change = Callable[[Path], None]

KEPT = {"one.json", "two.json", "lines.ndjson", "packed.ndjson.gz", "table.parquet"}


def numbered(number: int) -> dict[str, Any]:
    """A short swing that is like no other."""
    return {**short_request(), "client_reference": str(number)}


def _row(number: int) -> dict[str, Any]:
    return {
        "keypoints": [float(number)] * 17 * 3 * 24,
        "layout": "coco_17",
        "fps": 30.0,
        "client_reference": f"row {number}",
        "carried": [],
    }


def write_rows(path: Path, *numbers: int) -> None:
    """A table with a row group for every two."""
    pq.write_table(clips_table([_row(number) for number in numbers]), path, row_group_size=2)


def make(folder: Path) -> Path:
    """Swings alone, in lines, packed lines and a table, some of them broken."""
    folder.mkdir()
    (folder / "one.json").write_text(json.dumps(numbered(1)))
    (folder / "two.json").write_text(json.dumps(numbered(2)))
    (folder / "broken.json").write_text("{")
    (folder / "lines.ndjson").write_bytes(ndjson(*map(numbered, range(3))) + b"\n{\n")
    (folder / "packed.ndjson.gz").write_bytes(gzip.compress(ndjson(*map(numbered, range(5, 8)))))
    write_rows(folder / "table.parquet", 1, 2, 3, 4)
    return folder


@contextmanager
def watched(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """The inputs that are analysed or refused meanwhile, by place."""
    seen: list[str] = []
    tag_chunk = tagging._tag_chunk

    def watch(chunk: list[Any], *others: Any) -> None:
        seen.extend(f"{each.path}:{each.first}" for each in chunk)
        tag_chunk(chunk, *others)

    with monkeypatch.context() as patch:
        patch.setattr(tagging, "_tag_chunk", watch)
        yield seen


def unordered(folder: Path) -> dict[str, list[str]]:
    """Every row of every table, in no order."""
    found = everything(folder)
    return {table: sorted(map(repr, each)) for table, each in found.items()}


def grow(folder: Path) -> None:
    with (folder / "lines.ndjson").open("ab") as file:
        file.write(ndjson(numbered(20), numbered(21)))
    (folder / "later").mkdir()
    (folder / "later" / "new.json").write_text(json.dumps(numbered(30)))


def edit(folder: Path) -> None:
    lines = (folder / "lines.ndjson").read_bytes().splitlines(keepends=True)
    lines[1] = ndjson(numbered(99))
    (folder / "lines.ndjson").write_bytes(b"".join(lines))


def blank(folder: Path) -> None:
    lines = (folder / "lines.ndjson").read_bytes().splitlines(keepends=True)
    (folder / "lines.ndjson").write_bytes(lines[0] + b"\n" + b"".join(lines[2:]))


def shorten(folder: Path) -> None:
    (folder / "two.json").unlink()
    (folder / "packed.ndjson.gz").write_bytes(gzip.compress(ndjson(numbered(5))))


def mend(folder: Path) -> None:
    (folder / "broken.json").write_text(json.dumps(numbered(40)))
    write_rows(folder / "table.parquet", 1, 2, 3, 5, 6)


def same_size_and_time(folder: Path) -> None:
    path = folder / "two.json"
    told = path.stat()
    path.write_text(json.dumps(numbered(3)))
    os.utime(path, ns=(told.st_atime_ns, told.st_mtime_ns))
    assert (path.stat().st_size, path.stat().st_mtime_ns) == (told.st_size, told.st_mtime_ns)


def copied(folder: Path) -> None:
    aside = folder.with_name("aside")
    folder.rename(aside)
    shutil.copytree(aside, folder, copy_function=shutil.copyfile)


def nothing(_: Path) -> None:
    pass


CHANGES: dict[str, tuple[Change, set[str]]] = {
    "nothing": (nothing, set()),
    "grown": (grow, {"lines.ndjson:5", "lines.ndjson:6", "later/new.json:0"}),
    "a line edited": (edit, {"lines.ndjson:1"}),
    "a line taken out": (blank, set()),
    "files and lines gone": (shorten, set()),
    "mended": (mend, {"broken.json:0", "table.parquet:2", "table.parquet:4"}),
    "changed with its size and time set back": (same_size_and_time, {"two.json:0"}),
    "copied to other files of other times": (copied, set()),
}
