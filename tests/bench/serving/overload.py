"""200 connections that ask for twice what can be done.

``python -m tests.bench.serving.overload [SECONDS [PROCESSES]]``; 60 seconds and two processes
unless told otherwise. First what can be done is measured: 8 connections, one request after the
other. Then requests go out at twice that rate over 200 connections, whatever becomes of them, each
under a reference of its own. Every answer 200 must be, byte for byte, the answer that the same clip
got before; all others must be 503 or 429. Memory is that of all processes, shared pages counted
once.
"""

from __future__ import annotations

import asyncio
import json
import os
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from multiprocessing import Process, Queue
from queue import Empty

import httpx

from tests.attack.fuzz.corpus import bodies as kept_bodies
from tests.bench.processes import Tree, machine_busy_seconds
from tests.bench.serving.health_under_load import measure, percentile, serve
from tests.bench.serving.throughput import load

CONNECTIONS = 200
TIMES = 2.0
MOST_MEMORY = 1.5
MOST_HEALTH_MS = 100.0
MOST_TOLD_OFF_MS = 1000.0
"""What is meant by quickly, at the 99th percentile."""
CLIPS = ("club_face_on", "landmarks_33_objects", "plain_timed", "yolo_pose")
REFERENCE = "000000000000"


@dataclass
class Met:
    """What became of the requests."""

    statuses: Counter[int] = field(default_factory=Counter)
    took: dict[int, list[float]] = field(default_factory=dict)
    wrong: int = 0
    broken: Counter[str] = field(default_factory=Counter)

    def note(self, status: int, took: float, *, wrong: bool) -> None:
        """An answer, and the milliseconds it took."""
        self.statuses[status] += 1
        self.took.setdefault(status, []).append(took)
        self.wrong += wrong


def main() -> int:
    """Print every figure beside what it may be; 1 when one is not met."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    os.environ["SWING_WORKERS"] = sys.argv[2] if len(sys.argv) > 2 else "2"
    with tempfile.TemporaryDirectory() as folder:
        address, process = serve(folder)
        try:
            time.sleep(5.0)
            right = {name: _answer(address, name) for name in CLIPS}
            server = Tree(process.pid)
            load(address, server, 8, 3.0)  # warm
            idle = server.resident_mib()
            sustained, _ = load(address, server, 8, min(seconds, 15.0))
            print(f"sustained: {sustained.told()}", flush=True)
            return _overload(address, server, sustained.rate, seconds, right, idle)
        finally:
            process.terminate()
            process.wait(timeout=60)


def _overload(
    address: str,
    server: Tree,
    sustained: float,
    seconds: float,
    right: dict[str, bytes],
    idle: float,
) -> int:
    said: Queue[Met] = Queue()
    asked: Queue[dict[str, list[float]]] = Queue()
    busy, used = machine_busy_seconds(), server.cpu_seconds()
    rate = TIMES * sustained
    callers = Process(target=_call, args=(address, rate, seconds, right, said))
    health = Process(target=_ask, args=(address, seconds, asked))
    callers.start()
    health.start()
    most, met, begin = idle, None, time.monotonic()
    while met is None:
        most = max(most, server.resident_mib())
        try:
            met = said.get(timeout=0.5)
        except Empty:
            continue
    took = asked.get(timeout=60)["/healthz"]
    busy = (machine_busy_seconds() - busy) / (time.monotonic() - begin)
    used = (server.cpu_seconds() - used) / (time.monotonic() - begin)
    print(f"asked for {rate:.1f} a second over {CONNECTIONS} connections for {seconds:g} s")
    print(f"of {os.cpu_count()} cores the service took {used:.2f}, everything together {busy:.2f}")
    _tell(met)
    others = [t for status, times in met.took.items() if status != 200 for t in times]
    strange = sum(n for status, n in met.statuses.items() if status not in (200, 429, 503))
    return _judged(
        ("accepted and wrong", met.wrong, 0),
        ("answers other than 200, 429 and 503", strange, 0),
        ("connections broken", sum(met.broken.values()), 0),
        ("told off, p99 in ms", percentile(others, 99) if others else 0.0, MOST_TOLD_OFF_MS),
        ("memory, times idle", most / idle, MOST_MEMORY),
        ("/healthz, p99 in ms", percentile(took, 99), MOST_HEALTH_MS),
    )


def _tell(met: Met) -> None:
    for status, times in sorted(met.took.items()):
        p50, p99 = (percentile(times, share) for share in (50, 99))
        print(f"{status}: {len(times)}, p50 {p50:.0f} p99 {p99:.0f} ms")


def _judged(*figures: tuple[str, float, float]) -> int:
    for name, value, most in figures:
        print(f"{name}: {value:.4g}, allowed {most:g}{'' if value <= most else '  MISSED'}")
    return int(any(value > most for _, value, most in figures))


def _body(name: str, reference: str) -> bytes:
    return json.dumps({**json.loads(kept_bodies()[name]), "client_reference": reference}).encode()


def _answer(address: str, name: str) -> bytes:
    """The answer that a clip gets when nothing else goes on."""
    headers = {"Content-Type": "application/json"}
    body = _body(name, REFERENCE)
    sent = httpx.post(f"{address}/v1/swings/analyze", content=body, headers=headers, timeout=60)
    return sent.raise_for_status().content


def _ask(address: str, seconds: float, asked: Queue[dict[str, list[float]]]) -> None:
    asked.put(measure(address, seconds, ("/healthz",)))


async def _read_answer(reader: asyncio.StreamReader) -> tuple[int, bytes]:
    """Status and body of the next answer on a connection."""
    head = (await reader.readuntil(b"\r\n\r\n")).decode().lower()
    headers = dict(line.split(": ", 1) for line in head.split("\r\n")[1:-2])
    return int(head.split()[1]), await reader.readexactly(int(headers["content-length"]))


def _write_request(writer: asyncio.StreamWriter, host: str, body: bytes) -> None:
    """By hand, as a client library takes more of the machine than the service may need."""
    writer.write(
        f"POST /v1/swings/analyze HTTP/1.1\r\nHost: {host}\r\n"
        f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n".encode()
    )
    writer.write(body)


def _call(
    address: str, rate: float, seconds: float, right: dict[str, bytes], said: Queue[Met]
) -> None:
    """Send at a rate, over whichever connection is free."""
    host, _, port = address.removeprefix("http://").partition(":")
    bodies = {name: _body(name, REFERENCE) for name in CLIPS}
    met, due = Met(), iter(range(int(rate * seconds)))
    begin = time.monotonic()

    async def one() -> None:
        reader = writer = None
        for number in due:
            wait = begin + number / rate - time.monotonic()
            if wait > 0:
                await asyncio.sleep(wait)
            if reader is None or writer is None or reader.at_eof():  # idle ones are closed in time
                reader, writer = await asyncio.open_connection(host, int(port))
            name, reference = CLIPS[number % len(CLIPS)], f"{number:012d}".encode()
            body = bodies[name].replace(REFERENCE.encode(), reference)
            started = time.perf_counter()
            _write_request(writer, host, body)
            try:
                status, answer = await _read_answer(reader)
            except (OSError, EOFError) as error:
                met.broken[type(error).__name__] += 1
                reader = None
                continue
            took = 1e3 * (time.perf_counter() - started)
            is_right = answer == right[name].replace(REFERENCE.encode(), reference)
            met.note(status, took, wrong=status == 200 and not is_right)
        if writer is not None:
            writer.close()

    async def many() -> None:
        await asyncio.gather(*(one() for _ in range(CONNECTIONS)))

    asyncio.run(many())
    said.put(met)


if __name__ == "__main__":
    sys.exit(main())
