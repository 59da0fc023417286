"""Connections that say nothing."""

from __future__ import annotations

import os
import resource
import select
import signal
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from service.api.load.connections import HEADERS_WITHIN
from service.api.load.listening import TAKEN_AT_ONCE
from tests.coming_up import served
from tests.waiting import until

DESCRIPTORS = 512


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, Path]]:
    """Port and log of a server that may open few files."""
    folder = tmp_path_factory.mktemp("server")
    log = folder / "log"

    def few_files() -> None:
        resource.setrlimit(resource.RLIMIT_NOFILE, (DESCRIPTORS, DESCRIPTORS))

    with log.open("wb") as file, served({}, file, before=few_files) as up:
        (folder / "pid").write_text(str(up.process.pid))
        yield up.port, log


def test_silent_connections_keep_no_other_out(server: tuple[int, Path]) -> None:
    port, log = server
    silent = [_connected(port) for _ in range(2 * DESCRIPTORS)]
    try:
        _until_open(silent, DESCRIPTORS - 3 * TAKEN_AT_ONCE)
        _answered_soon(port)
        _until_open(silent, 0)  # as they are silent for longer than is allowed
    finally:
        for each in silent:
            each.close()
    assert log.stat().st_size < 100_000
    assert b"Too many open files" not in log.read_bytes()


def test_what_is_no_http_is_told_once(server: tuple[int, Path]) -> None:
    port, log = server
    for _ in range(200):
        with _connected(port) as connection:
            connection.sendall(b"\x16\x03\x01 no HTTP\r\n\r\n")
            assert connection.recv(12) == b"HTTP/1.1 400"
    assert log.read_bytes().count(b"Invalid HTTP request") == 1


def test_many_connections_at_once_wait_to_be_taken_and_are_not_dropped(
    server: tuple[int, Path],
) -> None:
    """One that is dropped comes again a second later; the server stands still meanwhile."""
    port, log = server
    stopped = int((log.parent / "pid").read_text())
    os.kill(stopped, signal.SIGSTOP)
    coming = [socket.socket() for _ in range(256)]
    try:
        for each in coming:
            each.setblocking(False)
            each.connect_ex(("127.0.0.1", port))
        _, taken, _ = select.select([], coming, [], 0)
        assert len(taken) == len(coming)
    finally:
        os.kill(stopped, signal.SIGCONT)
        for each in coming:
            each.close()


def _answered_soon(port: int) -> None:
    """Answered, and long before the silent ones have to leave."""
    begin = time.monotonic()
    assert httpx.get(f"http://127.0.0.1:{port}/healthz", timeout=60).status_code == 200
    assert time.monotonic() - begin < HEADERS_WITHIN / 2


def _until_open(connections: list[socket.socket], most: int) -> None:
    """Wait until so many are open at the most."""
    until(lambda: sum(map(_is_open, connections)) <= most, HEADERS_WITHIN + 60)


def _connected(port: int) -> socket.socket:
    return socket.create_connection(("127.0.0.1", port), timeout=60)


def _is_open(connection: socket.socket) -> bool:
    try:
        connection.setblocking(False)
        return connection.recv(1) != b""
    except BlockingIOError:
        return True
    except OSError:
        return False
