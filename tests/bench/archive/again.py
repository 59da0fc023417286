"""``python -m tests.bench.archive.again [FILES [WORKERS]]``: an archive tagged once more.

The archive of :mod:`tests.bench.archive.broken`: tagged, tagged again as it is, once more after it
was copied, so that every file has other times, and after 1 % of the files were changed, 1 % taken
away and 1 % added. Just those must be tagged, and of the copies those that can't be unpacked; the
tables must then be those of a run that begins with nothing. Exit status 1 where not.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from service.archive.results import finished_results
from service.settings import Settings
from service.use_cases.archive.tag import TagArchive, tag_archive
from tests.bench.archive.broken import write_archive
from tests.bench.archive.made import told

FILES = 2_000
TICK = 3.0
"""Seconds after which a file's times lie before a plan's."""
SHARE = 0.01


def main(files: int, workers: int) -> int:
    """Print the time of each run and what it did."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        archive, out = folder / "archive", folder / "out"
        broken, _ = write_archive(archive, files)
        torn = sum("gzip" in way for way in broken.values())
        time.sleep(TICK)
        timed("first", archive, out, workers)
        right = timed("as it is", archive, out, workers) == 0
        archive.rename(folder / "before")
        shutil.copytree(folder / "before", archive, copy_function=shutil.copyfile)
        time.sleep(TICK)
        right &= timed("copied", archive, out, workers) == torn
        expected = change(archive)
        right &= timed("changed", archive, out, workers) == expected
        timed("anew", archive, folder / "anew", workers)
        right &= told(out) == told(folder / "anew")
    print("all as it must be" if right else "NOT as it must be")
    return 0 if right else 1


def change(archive: Path) -> int:
    """Change, take away and add some files; how many are then to be tagged."""
    plain = sorted(archive.rglob("*.json"))
    some = random.Random(3).sample(plain, 2 * round(SHARE * len(plain)))
    half = len(some) // 2
    for number, path in enumerate(some[:half]):
        added = path.with_name(f"added-{number}.json")
        shutil.copyfile(path, added)
        path.write_bytes(path.read_bytes() + b" ")
    for path in some[half:]:
        path.unlink()
    return 2 * half


def timed(what: str, archive: Path, out: Path, workers: int) -> int:
    """Tag, and print how long it took; how many inputs were tagged."""
    before = finished_results(out).plan.header if (out / "swings").exists() else None
    began, spent = time.perf_counter(), time.process_time()
    wanted = TagArchive(archive, out, {}, workers=workers)
    plan = tag_archive(wanted, Settings(database_url=""), lambda _left, _more: None)
    header = plan.header
    count = 0 if header == before else header.inputs - header.kept
    print(
        f"{what}: {count:,} of {header.inputs:,} inputs tagged, {json.dumps(header.changes)}; "
        f"{time.perf_counter() - began:.1f} s by the clock, "
        f"{time.process_time() - spent:.1f} s of processor time of the command",
        flush=True,
    )
    return count


if __name__ == "__main__":
    given = [int(each) for each in sys.argv[1:3]]
    sys.exit(main(*given, *(FILES, os.cpu_count() or 1)[len(given) :]))
