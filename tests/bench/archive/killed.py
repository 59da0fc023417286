"""Killed at random moments: ``python -m tests.bench.archive.killed [SWINGS [KILLS [RUNS]]]``.

``kill -9`` of a worker, of the scheduler and of the command itself, each so many times, spread over
so many runs of the same archive, all of them side by side: a worker is replaced, and after the
others the command is given once more. At the end every swing must be there, none twice, all as in
an undisturbed run with the same models, those of ``SWING_MODEL_DIR``. Every second run is of an
archive that has grown since it was tagged: there the results must also be, whenever the command is
gone, as they were before or as they are at the end. Exit status 1 where not.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import psutil

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
from tests.bench.archive.made import told, write_table
from tests.ports import free_port

SETTINGS = Settings(database_url="")
MODELS = SETTINGS.model_dir.resolve()
SWINGS, KILLS = 2_000, 20
PARTITION = 5
HERE = ("--partition", PARTITION, "--workers", 2)
VICTIMS = ("worker", "scheduler", "command")
LONG = 1800.0
TRIES = 5
LATEST = 0.8
"""Share of the partitions that may be done when somebody is killed."""
LATER = 0.1
"""Seconds, at most, from when they are done to the kill."""

Command = subprocess.Popen[bytes]
Victim = Callable[[], Command | psutil.Process | None]


@dataclass(frozen=True)
class Archive:
    """What is tagged, and what must come of it.

    Attributes
    ----------
    before
        Results of its first half, over which those of all are written in runs of a grown archive.
    states
        All that a reader is told of the first half and of all.
    """

    folder: Path
    before: Path
    states: tuple[list[str], list[str]]


@dataclass(frozen=True)
class Run:
    """One folder of results, whose victim is killed after so many partitions each time."""

    victim: str
    out: Path
    has_grown: bool
    moments: tuple[float, ...]


def main(swings: int, kills: int, runs: int) -> int:
    """Print who was killed when, and what came of it."""
    with TemporaryDirectory() as name, ThreadPoolExecutor(len(VICTIMS) * runs) as pool:
        archive = written(Path(name), swings)
        planned = list(plan(Path(name), swings, kills, runs))
        right = sum(pool.map(lambda run: disturbed(archive, run, swings), planned))
    print(f"{right} of {len(planned)} runs as they must be")
    return int(right < len(planned))


def written(folder: Path, swings: int) -> Archive:
    """The archive and its undisturbed results."""
    archive, half = folder / "archive", swings // 2
    write_table(archive / "first.parquet", half, PARTITION)
    before = tag(archive, folder / "before", SETTINGS, partition=PARTITION)
    write_table(archive / "later.parquet", swings - half, PARTITION, half)
    workers = min(8, os.cpu_count() or 1)
    end = tag(archive, folder / "undisturbed", SETTINGS, partition=PARTITION, workers=workers)
    return Archive(archive, before, (told(before), told(end)))


def plan(folder: Path, swings: int, kills: int, runs: int) -> Iterator[Run]:
    """The runs, their moments drawn."""
    chosen = random.Random(kills)
    partitions = swings // PARTITION
    for victim in VICTIMS:
        for number in range(runs):
            has_grown = number % 2 == 1
            first = partitions // 2 if has_grown else 0
            share = kills // runs + (number < kills % runs)
            moments = [
                first + LATEST * (partitions - first) * chosen.random() for _ in range(share)
            ]
            yield Run(victim, folder / f"{victim}-{number}", has_grown, tuple(sorted(moments)))


def disturbed(archive: Archive, run: Run, swings: int) -> bool:
    """One run from its begin to its end; whether it is as it must be."""
    if run.has_grown:
        shutil.copytree(archive.before, run.out)
    there, is_right = killed(archive, run)
    finish(archive, run)
    is_right &= told(run.out) == archive.states[-1]
    keys = Counter(row["swing"] for row in everything(run.out)["swings"])
    print(
        f"{run.victim} killed {len(there)} times, with {', '.join(map(str, there))} of "
        f"{swings // PARTITION} partitions done"
        f"{' of an archive that has grown' if run.has_grown else ''}: {len(keys)} of {swings} "
        f"swings, twice {sum(n > 1 for n in keys.values())}, "
        f"{'equal to' if is_right else 'NOT equal to'} the undisturbed run",
        flush=True,
    )
    return is_right


def killed(archive: Archive, run: Run) -> tuple[list[int], bool]:
    """Kill at each moment that comes before the end; how many partitions were there each time, and
    whether a reader of results was told the old ones or the new ones whenever nobody was at work.
    """
    there: list[int] = []
    is_whole = True
    left = list(run.moments)
    while left:
        with ExitStack() as stack:
            command, victim = begun(archive, run, stack)
            while left and command.poll() is None:
                wait_until(some_done(run.out, round(left[0])), command, LONG)
                time.sleep(random.uniform(0, LATER))
                if command.poll() is None and (found := victim()):
                    there.append(len(ready(run.out)))
                    left.pop(0)
                    found.kill()
                    if run.victim != "worker":
                        break
            command.communicate(timeout=LONG)
        if run.has_grown:
            is_whole &= told(run.out) in archive.states
        if not command.returncode:
            break
    return there, is_whole


def begun(archive: Archive, run: Run, stack: ExitStack) -> tuple[Command, Victim]:
    """The command, and whoever is to be killed of it."""
    options: tuple[object, ...] = HERE
    running: Command | None = None
    if run.victim == "scheduler":
        port = free_port()
        options = (*HERE[:2], "--scheduler", f"tcp://127.0.0.1:{port}")
        running = stack.enter_context(scheduler(port, models=MODELS))
    command = start_tagging(archive.folder, run.out, *options, models=MODELS)
    if run.victim == "worker":
        return command, lambda: random.choice(workers_of(command) or [None])
    return command, lambda: running or command


def finish(archive: Archive, run: Run) -> None:
    """Run until the command ends well, which the first should."""
    for _ in range(TRIES):
        command = start_tagging(archive.folder, run.out, *HERE, models=MODELS)
        _, words = command.communicate(timeout=LONG)
        if not command.returncode:
            return
    raise RuntimeError(words.decode())


if __name__ == "__main__":
    given = [int(each) for each in sys.argv[1:4]]
    sys.exit(main(*given, *(SWINGS, KILLS, 1)[len(given) :]))
