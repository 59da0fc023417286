"""``python -m tests.bench.archive.memory [WORKERS [COUNT ...]]``: memory and time by the count.

Swings of 240 frames of COCO-17 in tables, tagged by the command with so many workers (one, unless
told otherwise, does it in the command's own process). Told is the most memory that any process of
it ever held, and the processor time of all. Flat is within 20 % of the first count.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import psutil

from tests.bench.archive.made import write_tables

COUNTS = (1_000, 10_000, 100_000)
FLAT = 0.2
LOOKS = 0.05


def main(workers: int, counts: list[int]) -> int:
    """Print a line a count, and whether memory and time are as they should be."""
    told = []
    with TemporaryDirectory() as folder:
        for count in counts:
            archive = Path(folder) / str(count)
            write_tables(archive, count)
            own, of_worker, spent, clock = tag_and_measure(archive, workers)
            told.append((max(own, of_worker), spent / count))
            largest = f", a worker {of_worker:.0f} MB" if of_worker else ""
            print(
                f"{count:>8} swings: the command {own:.0f} MB at most{largest}; "
                f"{1e3 * spent / count:.2f} ms of processor time a swing with the start, "
                f"{clock:.0f} s by the clock",
                flush=True,
            )
    memory, pace = (max(each) / told[0][k] - 1 for k, each in enumerate(zip(*told, strict=True)))
    print(
        f"the largest process grows by {100 * memory:.0f} % "
        f"({'flat' if memory <= FLAT else 'NOT flat'}), time a swing by {100 * pace:.0f} %"
    )
    return int(memory > FLAT)


def tag_and_measure(archive: Path, workers: int) -> tuple[float, float, float, float]:
    """Most memory of the command and of a worker in MB, processor time and time in seconds."""
    out = archive.parent / f"{archive.name}-out"
    words = [sys.executable, "-m", "service", "tag", archive, "--out", out, "--workers", workers]
    before, began = _spent(), time.perf_counter()
    command = subprocess.Popen(
        [str(word) for word in words], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    own = of_worker = 0.0
    while command.poll() is None:
        own = max(own, _most_ever(command.pid))
        for child in psutil.Process(command.pid).children(recursive=True):
            of_worker = max(of_worker, _most_ever(child.pid))
        time.sleep(LOOKS)
    if command.returncode:
        raise RuntimeError(f"the command ended with {command.returncode}")
    return own, of_worker, _spent() - before, time.perf_counter() - began


def _most_ever(pid: int) -> float:
    """The most memory that a process ever held (``VmHWM``, proc(5)), in MB; 0 once it is gone."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM")), 0.0)


def _spent() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    given = [int(each) for each in sys.argv[1:]] or [1]
    sys.exit(main(given[0], given[1:] or list(COUNTS)))
