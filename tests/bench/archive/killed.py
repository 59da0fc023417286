"""Killed at random moments: ``python -m tests.bench.archive.killed [SWINGS [KILLS [AT_ONCE]]]``.

``kill -9`` of a worker, of the scheduler or of the command itself, each of a run of its own, then
the command once more: every swing must be there, none twice, all as in an undisturbed run. So many
runs at once as told, one unless told otherwise. Exit status 1 where not.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.archive.cluster import (
    free_port,
    ready,
    scheduler,
    some_done,
    start_tagging,
    wait_until,
    workers_of,
)
from tests.archive.made import everything, tag
from tests.bench.archive.made import write_table

SWINGS, KILLS = 2_000, 20
PARTITION = 5
LONG = 1800.0


def main(swings: int, kills: int, at_once: int) -> int:
    """Print what was killed when, and what came of it."""
    chosen = random.Random(kills)
    with TemporaryDirectory() as folder, ThreadPoolExecutor(at_once) as runs:
        archive = Path(folder) / "archive"
        write_table(archive / "swings.parquet", swings, PARTITION)
        undisturbed = everything(tag(archive, Path(folder) / "undisturbed", partition=PARTITION))

        def run(number: int, at: int, later: float) -> bool:
            out = Path(folder) / str(number)
            victim = ("worker", "scheduler", "command")[number % 3]
            there = killed(archive, out, victim, at, later)
            found = everything(out)
            keys = Counter(row["swing"] for row in found["swings"])
            same = found == undisturbed
            print(
                f"{victim} killed with {there} of {swings // PARTITION} partitions done: "
                f"{len(keys)} of {swings} swings, twice {sum(n > 1 for n in keys.values())}, "
                f"{'equal to' if same else 'NOT equal to'} the undisturbed run",
                flush=True,
            )
            return same

        partitions = swings // PARTITION
        moments = [
            (number, chosen.randrange(partitions * 3 // 4), chosen.uniform(0, 0.1))
            for number in range(kills)
        ]
        right = sum(runs.map(lambda each: run(*each), moments))
    print(f"{right} of {kills} as they must be")
    return int(right < kills)


def killed(archive: Path, out: Path, victim: str, at: int, later: float) -> int:
    """Run with a kill some time after so many partitions, then to the end; how many were done."""
    options: list[object] = ["--partition", PARTITION, "--workers", 2]
    with ExitStack() as stack:
        if victim == "scheduler":
            port = free_port()
            options = [*options[:2], "--scheduler", f"tcp://127.0.0.1:{port}"]
            running = stack.enter_context(scheduler(port))
        command = start_tagging(archive, out, *options)
        wait_until(some_done(out, at), command, LONG)
        time.sleep(later)
        there = len(ready(out))
        match victim:
            case "scheduler":
                running.kill()
            case "worker":
                for worker in workers_of(command)[:1]:
                    worker.kill()
            case _:
                command.kill()
        command.communicate(timeout=LONG)
    while command.returncode:
        command = start_tagging(archive, out, "--partition", PARTITION, "--workers", 2)
        command.communicate(timeout=LONG)
    return there


if __name__ == "__main__":
    given = [int(each) for each in sys.argv[1:4]]
    sys.exit(main(*given, *(SWINGS, KILLS, 1)[len(given) :]))
