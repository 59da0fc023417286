"""Told to stop, the service finishes what it took in and is gone in bounded time."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Final

import httpx
import pytest

from service.demo import clip_body
from tests.coming_up import wait_for

SHUTDOWN: Final[int] = 4
SLACK: Final[float] = 6.0
CALLERS: Final[int] = 4
JSON: Final[dict[str, str]] = {"Content-Type": "application/json"}
BEGINNING: Final[bytes] = (
    b"POST /v1/swings/analyze HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    b"Content-Length: 1000000\r\n\r\n" + b" " * 1000
)
"""Of a request whose sender then says nothing more."""


@pytest.fixture(params=[1, 2], ids=["one process", "two processes"])
def server(
    request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[tuple[int, subprocess.Popen[bytes]]]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {
        **os.environ,
        "SWING_PORT": str(port),
        "SWING_WORKERS": str(request.param),
        "SWING_SHUTDOWN_SECONDS": str(SHUTDOWN),
        "SWING_DATABASE_URL": f"sqlite:///{tmp_path / 'records.db'}",
        "SWING_METRICS": "true",
        "TMPDIR": str(_scratch(tmp_path)),
        "OPENBLAS_NUM_THREADS": "1",
    }
    process = subprocess.Popen(
        [sys.executable, "-m", "service", "serve"], env=environment, stderr=subprocess.DEVNULL
    )
    try:
        wait_for(f"http://127.0.0.1:{port}", process)
        yield port, process
    finally:
        process.kill()
        process.wait()


def _scratch(folder: Path) -> Path:
    scratch = folder / "scratch"
    scratch.mkdir(exist_ok=True)
    return scratch


def _stop(process: subprocess.Popen[bytes]) -> float:
    begin = time.monotonic()
    process.send_signal(signal.SIGTERM)
    process.wait(timeout=60)
    return time.monotonic() - begin


def test_what_was_taken_in_is_finished_nothing_is_left_and_no_slow_sender_holds_it_up(
    server: tuple[int, subprocess.Popen[bytes]], tmp_path: Path
) -> None:
    port, process = server
    connected = threading.Barrier(CALLERS + 1)

    def analyse() -> int:
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=60) as client:
            client.get("/v1/layouts")
            connected.wait(60)
            body = clip_body("face_on")
            return client.post("/v1/swings/analyze", content=body, headers=JSON).status_code

    with (
        socket.create_connection(("127.0.0.1", port)) as sending,
        ThreadPoolExecutor(CALLERS) as pool,
    ):
        sending.sendall(BEGINNING)
        sent = [pool.submit(analyse) for _ in range(CALLERS)]
        connected.wait(60)
        time.sleep(0.3)  # all are taken in, as they are written at once
        took = _stop(process)
        assert [each.result() for each in sent] == [200] * CALLERS
    assert took < SHUTDOWN + SLACK
    assert list(_scratch(tmp_path).iterdir()) == []
