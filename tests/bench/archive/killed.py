"""Killed at random moments: ``python -m tests.bench.archive.killed [SWINGS [KILLS [AT_ONCE]]]``.

``kill -9`` of a worker, of the scheduler or of the command itself, each of a run of its own, then
the command once more: every swing must be there, none twice, all as in an undisturbed run with the
same models, those of ``SWING_MODEL_DIR``. Half of the runs are of an archive that has grown since
it was tagged: there the results must also be, right after the kill, as they were before or as they
are at the end. So many runs at once as told, one unless told otherwise. Exit status 1 where not.
"""

from __future__ import annotations

import random
import shutil
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryDirectory

from service.archive.results import finished_results
from service.archive.schemas import RESULTS
from service.settings import Settings
from tests.archive.cluster import (
    ready,
    scheduler,
    some_done,
    start_tagging,
    wait_until,
    workers_of,
)
from tests.archive.made import everything, tag
from tests.bench.archive.made import write_table
from tests.ports import free_port

SETTINGS = Settings(database_url="")
MODELS = SETTINGS.model_dir.resolve()
SWINGS, KILLS = 2_000, 20
PARTITION = 5
OPTIONS = ("--partition", PARTITION, "--workers", 2)
VICTIMS = ("worker", "scheduler", "command")
LONG = 1800.0
TRIES = 5


def main(swings: int, kills: int, at_once: int) -> int:
    """Print what was killed when, and what came of it."""
    chosen = random.Random(kills)
    with TemporaryDirectory() as folder, ThreadPoolExecutor(at_once) as runs:
        archive, half = Path(folder) / "archive", swings // 2
        write_table(archive / "first.parquet", half, PARTITION)
        before = tag(archive, Path(folder) / "before", SETTINGS, partition=PARTITION)
        write_table(archive / "later.parquet", swings - half, PARTITION, half)
        end = tag(archive, Path(folder) / "undisturbed", SETTINGS, partition=PARTITION)
        undisturbed = told(end)
        states = (told(before), undisturbed)

        def run(number: int, at: int, later: float) -> bool:
            out = Path(folder) / str(number)
            victim = VICTIMS[number % len(VICTIMS)]
            has_grown = number // len(VICTIMS) % 2 == 1
            if has_grown:
                shutil.copytree(before, out)
            there = killed(archive, out, victim, at // 2 if has_grown else at, later)
            whole = not has_grown or told(out) in states
            finish(archive, out)
            found = told(out)
            keys = Counter(row["swing"] for row in everything(out)["swings"])
            same = found == undisturbed and whole
            print(
                f"{victim} killed with {there} of {swings // PARTITION} partitions done"
                f"{' of an archive that has grown' if has_grown else ''}: "
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


def told(out: Path) -> list[str]:
    """All that a reader of results is told."""
    results = finished_results(out)
    parts = (part for table in RESULTS for part in results.parts(table))
    return sorted(repr(row) for part in parts for row in part.to_pylist())


def killed(archive: Path, out: Path, victim: str, at: int, later: float) -> int:
    """Run with a kill some time after so many more partitions; how many were done."""
    options = OPTIONS
    at += len(ready(out))
    with ExitStack() as stack:
        if victim == "scheduler":
            port = free_port()
            options = (*OPTIONS[:2], "--scheduler", f"tcp://127.0.0.1:{port}")
            running = stack.enter_context(scheduler(port, models=MODELS))
        command = start_tagging(archive, out, *options, models=MODELS)
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
    return there


def finish(archive: Path, out: Path) -> None:
    """Run until the command ends well, which the first should."""
    for _ in range(TRIES):
        command = start_tagging(archive, out, *OPTIONS, models=MODELS)
        _, told = command.communicate(timeout=LONG)
        if not command.returncode:
            return
    raise RuntimeError(told.decode())


if __name__ == "__main__":
    given = [int(each) for each in sys.argv[1:4]]
    sys.exit(main(*given, *(SWINGS, KILLS, 1)[len(given) :]))
