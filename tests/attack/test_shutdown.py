"""Told to stop, the service finishes what it took in and is gone in bounded time."""

from __future__ import annotations

import signal
import socket
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Final

import httpx
import pytest

from service.demo import clip_body
from tests.coming_up import Served, served
from tests.observing.test_metrics import figures
from tests.waiting import until

SHUTDOWN: Final[int] = 4
SLACK: Final[float] = 30.0
CALLERS: Final[int] = 4
BEGINNING: Final[bytes] = (
    b"POST /v1/swings/analyze HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
    b"Content-Length: 1000000\r\n\r\n" + b" " * 1000
)
"""Of a request whose sender then goes on for longer than any test, too fast to be given up."""


@pytest.fixture(params=[1, 2], ids=["one process", "two processes"])
def server(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Served]:
    settings = {
        "SWING_WORKERS": str(request.param),
        "SWING_SHUTDOWN_SECONDS": str(SHUTDOWN),
        "SWING_DATABASE_URL": f"sqlite:///{tmp_path / 'records.db'}",
        "SWING_METRICS": "true",
        "TMPDIR": str(_scratch(tmp_path)),
        "OPENBLAS_NUM_THREADS": "1",
    }
    with served(settings) as up:
        yield up


def _scratch(folder: Path) -> Path:
    scratch = folder / "scratch"
    scratch.mkdir(exist_ok=True)
    return scratch


def _wait_for_all_inside(client: httpx.Client) -> None:
    """Return once every caller's request is taken in, and the slow sender's."""

    def inside() -> float:
        return figures(client.get("/metrics").text)["swing_requests_inside", "analyse"]

    until(lambda: inside() > CALLERS)


def test_what_was_taken_in_is_finished_nothing_is_left_and_no_slow_sender_holds_it_up(
    server: Served, tmp_path: Path
) -> None:
    body, told_to_stop = clip_body("face_on"), threading.Event()
    headers = {"Content-Type": "application/json", "Content-Length": str(len(body))}

    def in_two_parts() -> Iterator[bytes]:
        yield body[:1000]
        told_to_stop.wait(60)
        yield body[1000:]

    def analyse() -> int:
        url = f"{server.address}/v1/swings/analyze"
        return httpx.post(url, content=in_two_parts(), headers=headers, timeout=60).status_code

    over = threading.Event()

    def drip() -> None:
        with suppress(OSError), socket.create_connection(("127.0.0.1", server.port)) as sending:
            sending.sendall(BEGINNING)
            while not over.wait(0.5):
                sending.sendall(b" " * 4000)

    with ThreadPoolExecutor(CALLERS + 1) as pool, ExitStack() as leaving:
        leaving.callback(over.set)
        pool.submit(drip)
        sent = [pool.submit(analyse) for _ in range(CALLERS)]
        with httpx.Client(base_url=server.address, timeout=60) as client:
            _wait_for_all_inside(client)
        begin = time.monotonic()
        server.process.send_signal(signal.SIGTERM)
        told_to_stop.set()
        server.process.wait(timeout=60)
        assert time.monotonic() - begin < SHUTDOWN + SLACK
        assert [each.result() for each in sent] == [200] * CALLERS
    assert list(_scratch(tmp_path).iterdir()) == []
