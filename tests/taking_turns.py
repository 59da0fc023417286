"""Tests in several processes: those that keep a clock run alone, what is dear is made once."""

from __future__ import annotations

import fcntl
import os
import pickle
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import gettempdir
from typing import IO, TypeVar

import pytest

Made = TypeVar("Made")


def _folder() -> Path:
    """A folder that the processes of one run share, and no other run."""
    folder = Path(gettempdir()) / f"swing-tests-{os.environ['SWING_TEST_RUN']}"
    folder.mkdir(exist_ok=True)
    return folder


@contextmanager
def _locked(name: str, how: int) -> Iterator[IO[str]]:
    with (_folder() / name).open("w") as file:
        fcntl.flock(file, how)
        yield file


def made_once(name: str, make: Callable[[], Made]) -> Made:
    """What ``make`` gives, made by the first process that asks and read by the others."""
    file = _folder() / f"{name}.pickle"
    with _locked(f"{name}.lock", fcntl.LOCK_EX):
        if not file.exists():
            file.write_bytes(pickle.dumps(make()))
        made: Made = pickle.loads(file.read_bytes())
    return made


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let those that run alone begin, or all others would wait for the longest one at work."""
    items.sort(key=lambda item: not _alone(item))


def _alone(item: pytest.Item) -> bool:
    return item.get_closest_marker("alone") is not None


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Let a test that is marked ``alone`` have the machine for itself.

    Every test passes the door; one that wants to be alone keeps it shut until the others have left
    the room, or those behind it would go in forever.
    """
    with (_folder() / "room").open("w") as room:
        with _locked("door", fcntl.LOCK_EX):
            fcntl.flock(room, fcntl.LOCK_EX if _alone(item) else fcntl.LOCK_SH)
        return (yield)


def pytest_unconfigure(config: pytest.Config) -> None:
    """Remove the folder once every process is done."""
    if not hasattr(config, "workerinput"):
        shutil.rmtree(_folder())


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int | None:
    """A process more than there are cores: tests wait for servers, clocks and databases."""
    told = os.environ.get("PYTEST_XDIST_AUTO_NUM_WORKERS")
    return None if told else len(os.sched_getaffinity(0)) + 1
