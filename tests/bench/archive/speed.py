"""Swings a second from Parquet: ``python -m tests.bench.archive.speed [SWINGS]``.

Swings of 240 frames of COCO-17 in a table, tagged with the trained models into tables: first in
this process on one core, then by two worker processes. Of the one core the processor's time is told
too, which other programs on the machine disturb less than the clock. Rates are taken over the
second half of the partitions, so that no process's start, early or late, is in them.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from service.settings import Settings
from service.use_cases.archive.tag import TagArchive, tag_archive
from tests.bench.archive.made import FRAMES, LAYOUT, write_table

SWINGS = 3072
PARTITION = 64
CORES = 2
FEW = 4
"""Partitions done before anything is measured."""


def main(swings: int) -> None:
    """Print both rates and how they compare."""
    all_cores = os.sched_getaffinity(0)
    with TemporaryDirectory() as folder:
        archive = Path(folder) / "archive"
        write_table(archive / "swings.parquet", swings, PARTITION)
        size = (archive / "swings.parquet").stat().st_size / swings
        print(f"{swings} swings, {FRAMES} frames, {LAYOUT}: {size / 1e3:.1f} kB a swing as Parquet")
        os.sched_setaffinity(0, {max(all_cores)})
        write_table(Path(folder) / "few" / "swings.parquet", FEW * PARTITION, PARTITION)
        timed(Path(folder) / "few", Path(folder) / "warm", 1)
        spent = time.process_time()
        one = timed(archive, Path(folder) / "one", 1)
        spent = (time.process_time() - spent) / swings
        os.sched_setaffinity(0, all_cores)
        print(f"one core: {one:.0f} swings/s by the clock, {1 / spent:.0f} by processor time")
        two = timed(archive, Path(folder) / "two", CORES)
        print(f"{CORES} processes: {two:.0f} swings/s by the clock, {two / one:.2f} times one")
        tables = sum(path.stat().st_size for path in (Path(folder) / "two").glob("[!_]*/*.parquet"))
        print(f"results: {tables / swings / 1e3:.2f} kB a swing")


def timed(archive: Path, out: Path, workers: int) -> float:
    """Swings a second by the clock, over the second half of the partitions."""
    moments: list[tuple[float, int]] = []

    def progress(_left: int, more: int) -> None:
        moments.append((time.perf_counter(), more))

    wanted = TagArchive(archive, out, {}, PARTITION, workers)
    tag_archive(wanted, Settings(database_url=""), progress)
    half = len(moments) // 2
    return sum(count for _, count in moments[half + 1 :]) / (moments[-1][0] - moments[half][0])


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else SWINGS)
