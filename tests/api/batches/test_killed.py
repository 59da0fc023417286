"""Workers as processes: killed in the middle, told to stop, beside a service."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.testclient import TestClient
from sqlalchemy import select

from service.records import Database
from service.records.batches import queue
from service.records.batches.tables import BatchItemRow
from service.use_cases.batches.lease import lease_kept
from tests.api.batches.sending import bodies, results, send, state
from tests.ports import free_port
from tests.records.kept import still_body
from tests.waiting import until

ROOT = Path(__file__).parents[3]
N_LINES = 256


def _start(database_url: str, **settings: str) -> subprocess.Popen[bytes]:
    environment = {
        **os.environ,
        "SWING_DATABASE_URL": database_url,
        "SWING_MIGRATE_ON_START": "false",
        "SWING_BATCH_LEASE_SECONDS": "1",
        "OMP_NUM_THREADS": "1",
        **settings,
    }
    command = [sys.executable, "-m", "service", "work"]
    return subprocess.Popen(command, cwd=ROOT, env=environment, stderr=subprocess.DEVNULL)


def _until_done(client: TestClient, batch: dict[str, Any]) -> None:
    until(lambda: state(client, batch)["state"] == "done", 120)


@pytest.fixture
def batch(client: TestClient) -> dict[str, Any]:
    lines = [still_body(reference=f"swing {k}") if k % 4 else b"{" for k in range(N_LINES)]
    return send(client, *lines)


def test_a_worker_killed_in_the_middle_loses_nothing_and_repeats_nothing(
    client: TestClient, database_url: str, batch: dict[str, Any]
) -> None:
    first = _start(database_url)
    until(lambda: state(client, batch)["done"] > 0, 120)
    first.send_signal(signal.SIGKILL)
    first.wait()
    second = _start(database_url)
    _until_done(client, batch)
    second.terminate()
    assert second.wait(timeout=60) == 0, "it stops when told to"
    found = results(client, batch)
    assert [line["line"] for line in found] == list(range(1, N_LINES + 1))
    assert [line["status"] for line in found] == [200 if k % 4 else 400 for k in range(N_LINES)]
    good = [line for line in found if line["status"] == 200]
    assert all(line["client_reference"] == f"swing {line['line'] - 1}" for line in good)
    without = [{**line["analysis"], "client_reference": None} for line in good]
    assert all(each == without[0] for each in without)
    told = state(client, batch)
    assert (told["done"], told["failed"]) == (N_LINES - N_LINES // 4, N_LINES // 4)


def test_a_lease_is_renewed_again_and_again_while_somebody_works(
    client: TestClient, database: Database
) -> None:
    batch = send(client, *bodies(1))
    with database.writing() as session:
        item = queue.take(session, "somebody", 3600)
    assert item is not None

    def until() -> float:
        with database.reading() as session:
            return session.scalars(select(BatchItemRow.leased_until)).one()

    seen = {until()}
    with lease_kept(database, item, lease=0.03):
        end = time.monotonic() + 120
        while len(seen) < 3 and time.monotonic() < end:
            seen.add(until())
            time.sleep(0.005)
        assert client.post(f"/v1/batches/{batch['id']}/cancel").status_code == 200
    assert len(seen) == 3, "as it was taken, and two renewals"


def test_a_service_works_through_batches_by_itself_tells_why_nobody_was_told_and_ends_its_worker(
    client: TestClient, database_url: str
) -> None:
    if not database_url.startswith("sqlite"):
        pytest.skip("the same on either database")
    port, shut = free_port(), free_port()
    environment = {
        **os.environ,
        "SWING_DATABASE_URL": database_url,
        "SWING_PORT": str(port),
        "SWING_WEBHOOK_PRIVATE": "true",
    }
    command = [sys.executable, "-m", "service", "serve"]
    serving = subprocess.Popen(command, cwd=ROOT, env=environment, stderr=subprocess.DEVNULL)
    try:
        batch = send(client, *bodies(3), callback_url=f"http://127.0.0.1:{shut}/")
        _until_done(client, batch)
        callback = _asked(f"http://127.0.0.1:{port}/v1/batches/{batch['id']}")["callback"]
        assert callback["last_try"]["problem"] == "Nobody takes a connection there."
        assert callback["next_try"] > callback["last_try"]["at"]
        (worker,) = _children(serving.pid)
    finally:
        serving.send_signal(signal.SIGKILL)
        serving.wait()
    until(lambda: not Path(f"/proc/{worker}").exists())  # it does not outlive who started it


def _asked(url: str) -> dict[str, Any]:
    """A batch as the service tells it, once it has tried to tell somebody else."""
    end = time.monotonic() + 120
    while time.monotonic() < end:
        with suppress(httpx.TransportError):
            told: dict[str, Any] = httpx.get(url, timeout=60).json()
            if told["callback"]["last_try"]:
                return told
        time.sleep(0.05)
    raise AssertionError("nobody was told")


def _children(pid: int) -> list[int]:
    return [child for child, parent in _processes() if parent == pid]


def _processes() -> Iterator[tuple[int, int]]:
    """Each process and its parent, as `/proc/PID/stat` has them (proc(5)).

    Any of them may end between its listing and its reading: the machine does other work.
    """
    for path in Path("/proc").glob("[0-9]*/stat"):
        with suppress(FileNotFoundError, ProcessLookupError):
            head, _, rest = path.read_text().rpartition(")")
            yield int(head.partition(" ")[0]), int(rest.split()[1])
