"""Swings a second from Parquet: ``python -m tests.bench.archive.speed [SWINGS]``.

Swings of 240 frames of COCO-17 in a table, tagged with the trained models into tables: first in
this process on one core, then by two worker processes on two cores, which this process, that gives
them their work, has to share with them. Told beside the clock is the processor time of all
processes, the system's own share apart, and the pages asked for; other programs on the machine
disturb these less. Rates are taken over the second half of the partitions, so that no process's
start, early or late, is in them. What two processes of the analysis alone gain on the same cores
(:mod:`tests.bench.archive.ceiling`) stands beside what ours do.
"""

from __future__ import annotations

import os
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import psutil

from service.settings import Settings
from service.use_cases.archive.tag import TagArchive, tag_archive
from tests.bench.archive.ceiling import gains, two_cores
from tests.bench.archive.made import FRAMES, LAYOUT, write_table

SWINGS = 3072
PARTITION = 64
FEW = 4
"""Partitions done before anything is measured."""


@dataclass(frozen=True)
class Used:
    """What this process and those it started have used so far."""

    clock: float
    user: float
    system: float
    of_this: float
    pages: int

    @classmethod
    def by_now(cls) -> Used:
        """Read from the system; of processes that have ended nothing is known any more."""
        here = psutil.Process()
        user = system = 0.0
        pages = 0
        for process in (here, *here.children(recursive=True)):
            spent = process.cpu_times()
            user, system = user + spent.user, system + spent.system
            pages += _pages(process.pid)
        spent = here.cpu_times()
        return cls(time.perf_counter(), user, system, spent.user + spent.system, pages)


@dataclass(frozen=True)
class Pace:
    """A swing's share of what was used between two moments."""

    rate: float
    user_ms: float
    system_ms: float
    of_this_ms: float
    pages: float

    def __str__(self) -> str:
        return (
            f"{self.rate:.0f} swings/s by the clock; a swing takes {self.user_ms:.2f} ms of "
            f"processor time and {self.system_ms:.2f} of the system's, {self.of_this_ms:.2f} of "
            f"both in this process, and {self.pages:.0f} pages"
        )


def main(swings: int) -> None:
    """Print both rates and how they compare."""
    all_cores = os.sched_getaffinity(0)
    cores = two_cores()
    with TemporaryDirectory() as folder:
        archive = Path(folder) / "archive"
        write_table(archive / "swings.parquet", swings, PARTITION)
        size = (archive / "swings.parquet").stat().st_size / swings
        print(f"{swings} swings, {FRAMES} frames, {LAYOUT}: {size / 1e3:.1f} kB a swing as Parquet")
        os.sched_setaffinity(0, {cores[-1]})
        write_table(Path(folder) / "few" / "swings.parquet", FEW * PARTITION, PARTITION)
        timed(Path(folder) / "few", Path(folder) / "warm", 1)
        one = timed(archive, Path(folder) / "one", 1)
        print(f"one core: {one}", flush=True)
        os.sched_setaffinity(0, set(cores))
        two = timed(archive, Path(folder) / "two", len(cores))
        print(f"{len(cores)} workers on cores {cores}: {two}")
        print(f"the two do {two.rate / one.rate:.2f} times as much as one", flush=True)
        os.sched_setaffinity(0, all_cores)
        tables = sum(path.stat().st_size for path in (Path(folder) / "two").glob("[!_]*/*.parquet"))
        print(f"results: {tables / swings / 1e3:.2f} kB a swing")
    for kind, gain in gains(cores).items():
        print(f"{kind}: {gain}")


def timed(archive: Path, out: Path, workers: int) -> Pace:
    """What a swing takes, over the second half of the partitions."""
    moments: list[tuple[Used, int]] = []

    def progress(_left: int, more: int) -> None:
        moments.append((Used.by_now(), more))

    wanted = TagArchive(archive, out, {}, PARTITION, workers)
    tag_archive(wanted, Settings(database_url=""), progress)
    half = len(moments) // 2
    (begin, _), (end, _) = moments[half], moments[-1]
    count = sum(more for _, more in moments[half + 1 :])
    return Pace(
        count / (end.clock - begin.clock),
        1e3 * (end.user - begin.user) / count,
        1e3 * (end.system - begin.system) / count,
        1e3 * (end.of_this - begin.of_this) / count,
        (end.pages - begin.pages) / count,
    )


def _pages(pid: int) -> int:
    """Minor faults of a process so far (``/proc/PID/stat``, field 10 of proc(5))."""
    return int(Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[7])


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else SWINGS)
