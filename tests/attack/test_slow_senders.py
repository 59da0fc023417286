"""Callers that take their time over a request, or over taking its answer."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from typing import Final

import pytest
import uvicorn
from fastapi import FastAPI, Request
from starlette.responses import Response

from service.api.load import connections
from service.api.load.connections import BoundedProtocol
from tests.waiting import until

WINDOW: Final[float] = 0.4
SLACK: Final[float] = 10.0
"""Seconds: what is awaited takes far less, and what it must not come to far more."""
LONG: Final[int] = 32 * 1024 * 1024
WHOLE: Final[bytes] = b"GET /short HTTP/1.1\r\nHost: x\r\n\r\n"
HEAD: Final[bytes] = b"POST /short HTTP/1.1\r\nHost: x\r\nContent-Length: 100000\r\n\r\n"


def _app() -> FastAPI:
    app = FastAPI()

    @app.api_route("/short", methods=["GET", "POST"])
    async def short(request: Request) -> Response:
        return Response(str(len(await request.body())))

    @app.post("/unread")
    async def unread() -> Response:
        return Response("refused")

    @app.get("/long")
    async def long() -> Response:
        return Response(b"x" * LONG)

    return app


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[int, uvicorn.Server]]:
    """Port of a server that waits for less long than usual, and the server."""
    for name in ("HEADERS_WITHIN", "BODY_WINDOW", "ANSWER_STUCK", "_LINGER"):
        monkeypatch.setattr(connections, name, WINDOW)
    listening = socket.create_server(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(_app(), http=BoundedProtocol, log_config=None))
    thread = threading.Thread(target=server.run, args=([listening],))
    thread.start()
    try:
        yield listening.getsockname()[1], server
    finally:
        server.should_exit = True
        thread.join(10)


@pytest.fixture
def caller(server: tuple[int, uvicorn.Server]) -> Iterator[socket.socket]:
    with socket.create_connection(("127.0.0.1", server[0]), timeout=60) as connection:
        yield connection


def _drip(caller: socket.socket, data: bytes) -> float:
    """Send byte for byte until told off; the seconds that took."""
    begin = time.monotonic()
    try:
        for byte in data:
            caller.sendall(bytes([byte]))
            caller.setblocking(False)
            try:
                if caller.recv(1, socket.MSG_PEEK) is not None:
                    break
            except BlockingIOError:
                pass
            finally:
                caller.settimeout(60)
            time.sleep(0.05)
    except OSError:
        pass
    return time.monotonic() - begin


def _rest(caller: socket.socket) -> bytes:
    said = b""
    try:
        while part := caller.recv(65536):
            said += part
    except ConnectionResetError:
        pass
    return said


def _answer(caller: socket.socket) -> bytes:
    caller.sendall(WHOLE)
    said = b""
    while not said.endswith(b"\r\n\r\n0"):
        said += caller.recv(65536)
    return said


def test_headers_that_come_byte_by_byte_are_ended(caller: socket.socket) -> None:
    assert _drip(caller, WHOLE[:-1] + b"X-More: " + b"x" * 1000) < WINDOW + SLACK
    assert _rest(caller).startswith(b"HTTP/1.1 408 ")


def test_half_a_request_on_a_kept_connection_is_ended(caller: socket.socket) -> None:
    assert b"200 OK" in _answer(caller)
    caller.sendall(WHOLE[:20])
    begin = time.monotonic()
    assert _rest(caller).startswith(b"HTTP/1.1 408 ")
    assert time.monotonic() - begin < WINDOW + SLACK


def test_a_body_that_comes_byte_by_byte_is_ended(caller: socket.socket) -> None:
    caller.sendall(HEAD)
    assert _drip(caller, b"x" * 1000) < WINDOW + SLACK
    assert _rest(caller).startswith(b"HTTP/1.1 408 ")


def test_a_body_that_stops_half_way_is_ended(caller: socket.socket) -> None:
    caller.sendall(HEAD + b"x" * 50_000)
    begin = time.monotonic()
    assert _rest(caller).startswith(b"HTTP/1.1 408 ")
    assert time.monotonic() - begin < 2 * WINDOW + SLACK


def test_a_body_whose_answer_is_known_can_not_be_dripped_on(caller: socket.socket) -> None:
    caller.sendall(HEAD.replace(b"short", b"unread"))
    assert b"200 OK" in caller.recv(65536)
    assert _drip(caller, b"x" * 1000) < WINDOW + SLACK
    assert b"408" not in _rest(caller)


def test_a_body_fast_enough_is_taken_however_long_it_takes(
    caller: socket.socket, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "BODY_WINDOW", 2.0)
    caller.sendall(HEAD)
    for _ in range(5):
        caller.sendall(b"x" * connections.BODY_LEAST)
        time.sleep(0.5)
    assert b"200 OK" in caller.recv(65536)


def test_an_answer_that_is_not_taken_is_given_up(
    server: tuple[int, uvicorn.Server], caller: socket.socket
) -> None:
    caller.sendall(WHOLE.replace(b"short", b"long"))
    until(lambda: not server[1].server_state.connections)
    assert len(_rest(caller)) < LONG


def test_an_idle_connection_is_kept_and_serves_again(caller: socket.socket) -> None:
    assert b"200 OK" in _answer(caller)
    time.sleep(2 * WINDOW)
    assert b"200 OK" in _answer(caller)


_HELD: Final[dict[str, bytes]] = {
    "silent": b"",
    "idle after an answer": WHOLE,
    "in the middle of a body": HEAD + b"x" * 5,
    "with a body whose answer is known": HEAD.replace(b"short", b"unread") + b"x" * 5,
}


@pytest.mark.parametrize("brought", _HELD.values(), ids=_HELD)
def test_where_no_more_connections_are_taken_whoever_brings_nothing_makes_way(
    server: tuple[int, uvicorn.Server], brought: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "HEADERS_WITHIN", 60.0)
    monkeypatch.setattr(connections, "BODY_WINDOW", 60.0)
    monkeypatch.setattr(connections, "most_connections", lambda: 3)
    address = ("127.0.0.1", server[0])
    held = [socket.create_connection(address, timeout=60) for _ in range(3)]
    try:
        for each in held:
            each.sendall(brought)
            if brought == WHOLE or b"unread" in brought:
                each.recv(65536)
        until(lambda: len(server[1].server_state.connections) == 3)
        time.sleep(0.2)
        for _ in range(3):
            with socket.create_connection(address, timeout=60) as newcomer:
                assert b"200 OK" in _answer(newcomer)
                held.append(newcomer.dup())
        assert len(server[1].server_state.connections) <= 3
    finally:
        for each in held:
            each.close()
