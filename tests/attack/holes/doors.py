"""Holes in the door: bodies and connections that cost more than they should."""

from __future__ import annotations

import gzip
import socket
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import httpx

from service.demo import clip_body
from tests.attack.holes.served import ANALYSE, JSON, PACKED, Code, Served, served
from tests.bench.processes import Tree
from tests.bench.serving.throughput import load

MEMBERS: Final[int] = 100_000
CONNECTIONS: Final[int] = 1200
DESCRIPTORS: Final[int] = 1024
_WATCHED: Final[float] = 12.0


def members(code: Code) -> str:
    """Many empty members; what is quadratic takes 70 times as long for 835,000."""
    body = gzip.compress(b"") * MEMBERS
    with served(code) as server:
        with server.health_watched():
            said, took = server.post(ANALYSE, body, PACKED)
        return (
            f"{MEMBERS:,} empty members ({len(body) >> 10} KiB): {said} after {took:.2f} s, "
            f"/healthz waited {server.longest_health:.2f} s at most"
        )


def silent(code: Code) -> str:
    """More connections than descriptors, of three kinds that bring no whole request."""
    return "; ".join(_held(code, name, bring) for name, bring in _KINDS.items())


def _held(code: Code, name: str, bring: Callable[[socket.socket], None]) -> str:
    with served(code, descriptors=DESCRIPTORS) as server:
        before, held = server.log.stat().st_size, []
        try:
            for _ in range(CONNECTIONS):
                held.append(socket.create_connection(("127.0.0.1", server.port), timeout=5))
                bring(held[-1])
            health, end = [], time.monotonic() + _WATCHED
            while time.monotonic() < end:
                health.append(_health(server))
                time.sleep(0.5)
        finally:
            for each in held:
                each.close()
        log = (server.log.stat().st_size - before) / 1e6
        return (
            f"{CONNECTIONS} {name}: /healthz answered {sum(health)} of {len(health)} times, "
            f"{log:.2f} MB of log in {_WATCHED:g} s"
        )


def _health(server: Served) -> bool:
    try:
        return httpx.get(f"{server.address}/healthz", timeout=1.0).is_success
    except httpx.HTTPError:
        return False


def _nothing(_: socket.socket) -> None:
    """Say nothing at all."""


def _idle(connection: socket.socket) -> None:
    """Ask, take the answer, and stay."""
    _say(connection, b"GET /v1/layouts HTTP/1.1\r\nHost: localhost\r\n\r\n")
    try:
        connection.recv(4096)
    except OSError:
        return


def _in_body(connection: socket.socket) -> None:
    """Begin a body."""
    head = b"POST /v1/swings/analyze HTTP/1.1\r\nHost: localhost\r\n"
    more = b"Content-Type: application/json\r\nContent-Length: 4000000\r\n\r\n"
    _say(connection, head + more + b" " * 30_000)


def _say(connection: socket.socket, words: bytes) -> None:
    try:
        connection.sendall(words)
    except OSError:
        return


_KINDS: Final[dict[str, Callable[[socket.socket], None]]] = {
    "silent": _nothing,
    "idle after an answer": _idle,
    "in the middle of a body": _in_body,
}


def unpacks(code: Code) -> str:
    """24 KB that unpack to 16 MiB of empty lists, eight at once."""
    many = 16 * 1024 * 1024 // 3 - 2
    body = gzip.compress(b"[" + b"[]," * many + b"[]]")
    with served(code) as server:
        before = server.peak_mib()
        with server.health_watched(), ThreadPoolExecutor(8) as callers:
            sent = [callers.submit(server.post, ANALYSE, body, PACKED) for _ in range(8)]
            said = [each.result() for each in sent]
        return (
            f"{len(body) >> 10} KB that unpack to 16 MiB, 8 at once: {said[0][0]} after "
            f"{max(took for _, took in said):.2f} s at most, {server.peak_mib() - before} MiB "
            f"more memory, /healthz waited {server.longest_health:.2f} s at most"
        )


def threads(code: Code, seconds: float = 8.0) -> str:
    """What default settings get done over 16 connections."""
    with served(code) as server:
        load(server.address, Tree(server.process.pid), 4, 3.0)
        seen, health = load(server.address, Tree(server.process.pid), 16, seconds)
        worst = sorted(health)[len(health) * 99 // 100]
        return f"{seen.told()}; /healthz p99 {worst:.0f} ms"


def ready_under_load(code: Code) -> str:
    """How long `/readyz` and `/healthz` take beside 24 callers."""
    with served(code) as server, httpx.Client(timeout=60) as asking:
        enough, clip = threading.Event(), clip_body("face_on")

        def send() -> None:
            with httpx.Client(timeout=120) as client:
                while not enough.is_set():
                    client.post(server.address + ANALYSE, content=clip, headers=JSON)

        callers = [threading.Thread(target=send) for _ in range(24)]
        for each in callers:
            each.start()
        took, end = [], time.monotonic() + 12.0
        while time.monotonic() < end:
            begin = time.perf_counter()
            asking.get(f"{server.address}/readyz")
            took.append(time.perf_counter() - begin)
            time.sleep(0.3)
        enough.set()
        for each in callers:
            each.join()
        late = sum(each > 1.0 for each in took)
        return (
            f"beside 24 callers /readyz took {max(took):.2f} s at most, "
            f"over 1 s {late} of {len(took)} times"
        )
