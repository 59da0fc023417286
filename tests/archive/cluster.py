"""The command in processes of its own, and its workers and schedulers to be killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import psutil

from service.archive.results import done

NO_MODELS = Path("no-models-here")
PATIENCE = 120.0
"""Seconds until a process that says nothing is given up."""


def start_tagging(
    archive: Path, out: Path, *options: object, models: Path = NO_MODELS
) -> subprocess.Popen[bytes]:
    """Start ``python -m service tag``, with rules alone unless told otherwise."""
    command = [sys.executable, "-m", "service", "tag", archive, "--out", out, *options]
    with _heeding_ctrl_c():
        return subprocess.Popen(
            [str(word) for word in command],
            env={**os.environ, "SWING_MODEL_DIR": str(models)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
        )


@contextmanager
def _heeding_ctrl_c() -> Iterator[None]:
    """What is started meanwhile heeds a Ctrl-C: a shell has its background jobs ignore it, and so
    would these tests' processes."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def wait_until(
    reached: Callable[[], bool], process: subprocess.Popen[bytes], patience: float = PATIENCE
) -> None:
    """Wait for something that a process brings about, or for its end."""
    end = time.monotonic() + patience
    while not reached() and process.poll() is None:
        if time.monotonic() > end:
            raise TimeoutError
        time.sleep(0.01)


def ready(out: Path) -> set[int]:
    """Partitions that are done, in place or aside."""
    return done(out).union(*map(done, out.glob("_state-*")))


def some_done(out: Path, count: int = 1) -> Callable[[], bool]:
    """Whether so many partitions are done."""
    return lambda: len(ready(out)) >= count


def workers_of(process: subprocess.Popen[bytes]) -> list[psutil.Process]:
    """The worker processes of a command."""
    found = psutil.Process(process.pid).children(recursive=True)
    return [each for each in found if "spawn_main" in _words_of(each)]


def _words_of(process: psutil.Process) -> str:
    try:
        return " ".join(process.cmdline())
    except psutil.Error:  # it has ended meanwhile
        return ""


@contextmanager
def scheduler(
    port: int, workers: int = 2, models: Path = NO_MODELS
) -> Iterator[subprocess.Popen[bytes]]:
    """A scheduler and workers, each a process; all are gone at the end."""
    address = f"tcp://127.0.0.1:{port}"
    environment = {**os.environ, "SWING_MODEL_DIR": str(models), "OMP_NUM_THREADS": "1"}
    here = ["--host", "127.0.0.1", "--no-dashboard"]
    commands = [
        ["distributed.cli.dask_scheduler", *here, "--port", str(port)],
        *(
            ["distributed.cli.dask_worker", address, "--nthreads", "1", *here[2:], "--no-nanny"]
            for _ in range(workers)
        ),
    ]
    running = [
        subprocess.Popen(
            [sys.executable, "-m", *command],
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for command in commands
    ]
    try:
        yield running[0]
    finally:
        for process in running:
            process.send_signal(signal.SIGKILL)
            process.wait()
