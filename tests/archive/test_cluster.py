"""A real cluster of processes, some of which are killed: nothing is lost and nothing twice."""

from __future__ import annotations

import signal
import threading
import time
from pathlib import Path

import pytest
from distributed import LocalCluster

from service.archive import engine
from service.archive.errors import EngineLost
from service.archive.results import done
from tests.archive.cluster import (
    PATIENCE,
    ready,
    scheduler,
    some_done,
    start_tagging,
    wait_until,
    workers_of,
)
from tests.archive.made import everything, ndjson, request, short_request, tag
from tests.ports import free_port

SWINGS, LONG, PARTITION = 24, 100, 2


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("archive")
    each = [request(), short_request(), short_request(30)]
    (folder / "a.ndjson").write_bytes(ndjson(*(each * (SWINGS // len(each)))))
    return folder


@pytest.fixture(scope="module")
def undisturbed(archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tag(archive, tmp_path_factory.mktemp("results") / "out", partition=PARTITION)


def test_workers_killed_as_they_start_or_at_work_are_replaced_and_their_work_done_again(
    archive: Path, undisturbed: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    running = start_tagging(archive, out, "--workers", 2, "--partition", PARTITION)
    wait_until(lambda: len(workers_of(running)) == 2, running)
    for worker in workers_of(running):
        worker.kill()
    wait_until(some_done(out), running)
    workers = workers_of(running)
    for worker in workers:
        # Set, it would have the system give every large array its pages anew.
        assert "MALLOC_TRIM_THRESHOLD_" not in worker.environ()
        worker.send_signal(signal.SIGINT)  # as a Ctrl-C does, which is the command's alone
    workers[0].kill()
    _, told = running.communicate(timeout=PATIENCE)
    assert running.returncode == 0, told
    assert b"KeyboardInterrupt" not in told
    assert everything(out) == everything(undisturbed)


def test_a_command_that_is_interrupted_says_that_it_goes_on_and_exits_as_others_do(
    tmp_path: Path,
) -> None:
    archive, out = tmp_path / "archive", tmp_path / "out"
    archive.mkdir()
    # Enough that some are left to do however late the signal comes.
    (archive / "a.ndjson").write_bytes(ndjson(*[short_request()] * LONG))
    options = ("--workers", 1, "--partition", PARTITION)
    running = start_tagging(archive, out, *options)
    wait_until(some_done(out), running)
    running.send_signal(signal.SIGINT)
    _, told = running.communicate(timeout=PATIENCE)
    assert running.returncode == 130
    assert told.endswith(
        b"interrupted. What is done is kept: run the command again, and it goes on\n"
    )
    assert 0 < len(ready(out)) < LONG // PARTITION
    assert tag(archive, out, partition=PARTITION) == out
    undisturbed = tag(archive, tmp_path / "undisturbed", partition=PARTITION)
    assert everything(out) == everything(undisturbed)


def test_a_cluster_of_which_no_worker_is_left_is_not_waited_for_for_ever(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(engine, "_LOOK", 0.1)
    monkeypatch.setattr(engine, "_ABANDONED", 0.5)
    with LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
    ) as cluster:
        done = engine.run_on_dask(time.sleep, iter([3.0] * 3), 1, cluster.scheduler_address)
        leave = threading.Timer(1.0, cluster.scale, (0,))
        leave.start()
        with pytest.raises(EngineLost, match="no worker is left"):
            list(done)
        leave.join()


def test_a_scheduler_that_is_killed_ends_the_command_and_the_next_one_goes_on(
    archive: Path, undisturbed: Path, tmp_path: Path
) -> None:
    out, port = tmp_path / "out", free_port()
    options = ("--scheduler", f"tcp://127.0.0.1:{port}", "--partition", PARTITION)
    with scheduler(port, workers=1) as running:
        command = start_tagging(archive, out, *options)
        wait_until(some_done(out), command)
        running.kill()
        _, told = command.communicate(timeout=PATIENCE)
    assert command.returncode == 2
    assert b"run the command again, and it goes on" in told
    before = ready(out)
    assert tag(archive, out, partition=PARTITION) == out
    assert before < done(out)
    assert everything(out) == everything(undisturbed)
