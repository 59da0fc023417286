"""``python -m tests.bench.killed_batches``: a batch whose server and worker are killed at random.

The same lines are sent twice: to a service that nobody disturbs, and beside it to one whose server
and whose worker are each killed (SIGKILL) at random moments: the server first while it takes the
batch in, then both while it runs and while somebody reads the results. Afterwards every line must
have one result, equal to that of the undisturbed run. Exits with 1 where that is not so.
"""

from __future__ import annotations

import argparse
import gzip
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import httpx

from tests.ports import free_port
from tests.records.kept import swing_body

T = TypeVar("T")

_MAKES = 16
"""Different swings among the lines."""

_HEADERS = {"Content-Type": "application/x-ndjson", "Content-Encoding": "gzip"}
_LEASE = "5"
_PATIENCE = 1800.0
"""Seconds after which a run is given up."""


class Killed:
    """A process that is started again each time it is killed."""

    def __init__(self, command: str, environment: dict[str, str]) -> None:
        self._command = [sys.executable, "-m", "service", command]
        self._environment = environment
        self.kills = 0
        self.start()

    def start(self) -> None:
        self._process = subprocess.Popen(
            self._command, env=self._environment, stderr=subprocess.DEVNULL
        )

    def kill(self) -> None:
        self._process.send_signal(signal.SIGKILL)
        self._process.wait()
        self.kills += 1
        self.start()

    def stop(self) -> None:
        self._process.terminate()
        self._process.wait()


class Run:
    """A server and a worker on one database."""

    def __init__(self, database_url: str) -> None:
        port = free_port()
        environment = {
            **os.environ,
            "SWING_DATABASE_URL": database_url,
            "SWING_PORT": str(port),
            "SWING_BATCH_WORKERS": "0",
            "SWING_BATCH_LEASE_SECONDS": _LEASE,
            "OMP_NUM_THREADS": "1",
        }
        self.server = Killed("serve", environment)
        self.client = httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=120)
        self.asked(lambda: self.client.get("/healthz"))
        self.worker = Killed("work", environment)

    def asked(self, ask: Callable[[], T]) -> T:
        """What is answered, as soon as somebody answers."""
        end = time.monotonic() + _PATIENCE
        while True:
            try:
                return ask()
            except (httpx.HTTPError, _Busy):
                if time.monotonic() > end:
                    raise
                time.sleep(0.1)

    def send(self, body: bytes) -> str:
        def ask() -> str:
            headers = _HEADERS | {"Idempotency-Key": "the-only-one"}
            answer = self.client.post("/v1/batches", content=body, headers=headers)
            _check(answer, 202)
            return str(answer.json()["id"])

        return self.asked(ask)

    def state(self, batch_id: str) -> dict[str, Any]:
        def ask() -> dict[str, Any]:
            answer = self.client.get(f"/v1/batches/{batch_id}")
            _check(answer, 200)
            told: dict[str, Any] = answer.json()
            return told

        return self.asked(ask)

    def follow(self, batch_id: str, found: list[bytes]) -> None:
        """Read the results to the end, going on after the last whole line when it breaks off."""

        def ask() -> bool:
            path = f"/v1/batches/{batch_id}/results"
            after = json.loads(found[-1])["line"] if found else 0
            with self.client.stream("GET", path, params={"after_line": after}) as answer:
                _check(answer, 200)
                rest = b""
                try:
                    for part in answer.iter_bytes():
                        *whole, rest = (rest + part).split(b"\n")
                        found.extend(whole)
                except httpx.HTTPError:
                    return False
            return True

        while not self.asked(ask):
            pass

    def batches(self) -> int:
        return len(self.client.get("/v1/batches").json()["items"])

    def stop(self) -> None:
        self.client.close()
        self.worker.stop()
        self.server.stop()


class _Busy(Exception):
    """The server is there but can't do it yet."""


def _check(answer: httpx.Response, status: int) -> None:
    if answer.status_code in (500, 503):  # it is not ready yet
        raise _Busy(str(answer.status_code))
    if answer.status_code != status:
        raise RuntimeError(f"{answer.status_code}: {answer.read()[:300]!r}")


def lines(count: int) -> list[bytes]:
    """Requests, each with a reference of its own, one in a hundred broken."""
    makes = [swing_body(seed, reference="REFERENCE") for seed in range(1, _MAKES + 1)]
    made = [makes[k % _MAKES].replace(b"REFERENCE", f"swing {k}".encode()) for k in range(count)]
    return [line[: len(line) // 2] if k % 100 == 99 else line for k, line in enumerate(made)]


def undisturbed(url: str, body: bytes) -> tuple[list[dict[str, Any]], float]:
    """Results of a run that nobody disturbs, and its lines a second."""
    run = Run(url)
    try:
        batch_id, found = run.send(body), []
        run.follow(batch_id, found)
        return _plain(found), run.state(batch_id)["per_second"]
    finally:
        run.stop()


def disturbed(
    url: str, body: bytes, count: int, kills: int, chance: random.Random
) -> tuple[list[dict[str, Any]], list[dict[str, Any]], dict[str, int]]:
    """Results as read while it ran, and once more afterwards; how often who was killed."""
    run = Run(url)
    try:
        batch_id = _send_while_killed(run, body, chance)
        found: list[bytes] = []
        follower = threading.Thread(target=run.follow, args=(batch_id, found))
        follower.start()
        moments = [(chance.uniform(0, 0.97) * count, run.worker) for _ in range(kills)]
        moments += [(chance.uniform(0, 0.97) * count, run.server) for _ in range(kills - 1)]
        for at, victim in sorted(moments, key=lambda moment: moment[0]):
            while _worked(run.state(batch_id)) < at:
                time.sleep(0.05)
            time.sleep(chance.uniform(0, 0.5))
            victim.kill()
        follower.join()
        again: list[bytes] = []
        run.follow(batch_id, again)
        told = run.state(batch_id)
        facts = {
            "batches": run.batches(),
            "worker killed": run.worker.kills,
            "server killed": run.server.kills,
            "done": told["done"],
            "failed": told["failed"],
        }
        return _plain(found), _plain(again), facts
    finally:
        run.stop()


def _send_while_killed(run: Run, body: bytes, chance: random.Random) -> str:
    sent: list[str] = []
    sender = threading.Thread(target=lambda: sent.append(run.send(body)))
    sender.start()
    time.sleep(chance.uniform(0, 1))
    run.server.kill()
    sender.join()
    return sent[0]


def _worked(told: dict[str, Any]) -> int:
    return int(told["done"] + told["failed"])


def _plain(found: list[bytes]) -> list[dict[str, Any]]:
    """Results without the id of their batch."""
    plain = [json.loads(line) for line in found]
    for line in plain:
        line.get("problem", {}).pop("instance", None)
    return plain


def main() -> int:
    """Run both, compare, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--swings", type=int, default=400)
    parser.add_argument("--kills", type=int, default=5, help="of the server, and of the worker")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--postgres", nargs=2, metavar="URL", help="two empty databases in place of SQLite files"
    )
    options = parser.parse_args()
    body = gzip.compress(b"\n".join(lines(options.swings)), 1)
    chance = random.Random(options.seed)
    with _databases(options.postgres) as (first, second), ThreadPoolExecutor(1) as beside:
        told = beside.submit(undisturbed, first, body)
        begin = time.monotonic()
        read, again, facts = disturbed(second, body, options.swings, options.kills, chance)
        seconds = time.monotonic() - begin
        expected, rate = told.result()
    numbers = [line["line"] for line in again]
    checks = {
        "every line has a result": numbers == list(range(1, options.swings + 1)),
        "none has two": len(set(numbers)) == len(numbers),
        "equal to the undisturbed run": again == expected,
        "whoever followed read the same": read == again,
        "counts agree": facts["done"] + facts["failed"] == options.swings,
        "one batch was made": facts["batches"] == 1,
    }
    print(f"{options.swings} lines, undisturbed at {rate:.1f} a second")
    print(f"disturbed for {seconds:.0f} s: " + ", ".join(f"{k} {v}" for k, v in facts.items()))
    for what, holds in checks.items():
        print(f"{'yes' if holds else 'NO '}  {what}")
    return 0 if all(checks.values()) else 1


@contextmanager
def _databases(given: list[str] | None) -> Iterator[tuple[str, str]]:
    if given is not None:
        yield given[0], given[1]
        return
    folder = Path(tempfile.mkdtemp(prefix="killed-batches-"))
    try:
        yield f"sqlite:///{folder / 'first.db'}", f"sqlite:///{folder / 'second.db'}"
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    sys.exit(main())
