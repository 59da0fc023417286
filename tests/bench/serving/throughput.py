"""How many swings a second one process analyses and how many two, and what each costs.

``python -m tests.bench.serving.throughput [SECONDS [ROUNDS]]``. Real servers of one process and of
two, by turns, so that what else goes on hits both alike; callers in a process of their own send the
demonstration's clip over 16 and then 200 connections, one request after the other, and who is told
to come again waits as long as `Retry-After` says. Beside the rate stands the server's CPU time a
swing, which others on the machine change little, and how much of the machine they took: where that
is not near nothing the rates tell little, and equal CPU time a swing tells that two processes do
not get in each other's way.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import statistics
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from multiprocessing import Process, Queue

from service.demo import clip_body
from tests.bench.processes import Tree, machine_busy_seconds
from tests.bench.serving.health_under_load import measure, percentile, serve

CONNECTIONS = (16, 200)
RATIO = 1.7
"""Times what one process gets done that two should, on two cores."""


@dataclass
class Seen:
    """What the callers of one run were answered."""

    seconds: float = 0.0
    statuses: Counter[int] = field(default_factory=Counter)
    took: list[float] = field(default_factory=list)
    """Milliseconds of each swing analysed."""
    told_off: list[float] = field(default_factory=list)
    """Milliseconds until a caller was told to come again."""
    answered: Counter[int] = field(default_factory=Counter)
    """Swings analysed of each caller."""
    cpu_ms: float = 0.0
    """The server's CPU time a swing."""
    others: float = 0.0
    """Cores that everybody else on the machine took on average."""

    def add(self, caller: int, status: int, milliseconds: float) -> None:
        self.statuses[status] += 1
        self.answered[caller] += status == 200
        (self.took if status == 200 else self.told_off).append(milliseconds)

    @property
    def rate(self) -> float:
        """Swings a second."""
        return self.statuses[200] / self.seconds

    def told(self) -> str:
        """In one line."""
        text = (
            f"{self.rate:5.1f} swings/s, {self.cpu_ms:.1f} ms of CPU each, "
            f"p50 {percentile(self.took, 50):.0f} p99 {percentile(self.took, 99):.0f} ms"
        )
        if self.told_off:
            text += f", told off in p99 {percentile(self.told_off, 99):.0f} ms"
        return f"{text}, answers {dict(self.statuses)}, others took {self.others:.2f} cores"


def main() -> int:
    """Print the figures of each round and what they come to; 1 when two processes do too little."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    seen: dict[tuple[int, int], list[Seen]] = {}
    print(f"{os.cpu_count()} cores")
    for number in range(rounds):
        for workers in (1, 2):
            for connections, found in _one_server(workers, seconds).items():
                seen.setdefault((workers, connections), []).append(found)
                name = f"round {number + 1}, {workers} process{'es' * (workers > 1)}"
                print(f"{name}, {connections:3d} connections: {found.told()}", flush=True)
    return int(min(_come_to(seen, connections) for connections in CONNECTIONS) < RATIO)


def _one_server(workers: int, seconds: float) -> dict[int, Seen]:
    os.environ["SWING_WORKERS"] = str(workers)
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        address, process = serve(folder)
        try:
            time.sleep(5.0)  # every process is up
            server = Tree(process.pid)
            load(address, server, 4, 2.0)  # and warm
            for connections in CONNECTIONS:
                found[connections], health = load(address, server, connections, seconds)
                print(f"  /healthz p99 {percentile(health, 99):.0f} ms meanwhile")
        finally:
            process.terminate()
            process.wait(timeout=60)
    return found


def _come_to(seen: dict[tuple[int, int], list[Seen]], connections: int) -> float:
    """The median over rounds of how many times more two processes got done."""
    pairs = list(zip(seen[1, connections], seen[2, connections], strict=True))
    ratio = statistics.median(two.rate / one.rate for one, two in pairs)
    cpu = statistics.median(two.cpu_ms / one.cpu_ms for one, two in pairs)
    others = statistics.mean(each.others for pair in pairs for each in pair)
    print(
        f"{connections} connections: two processes got {ratio:.2f} times as much done (wanted "
        f"{RATIO}), at {cpu:.2f} times the CPU time a swing; others took {others:.2f} cores"
    )
    return ratio


def load(
    address: str, server: Tree, connections: int, seconds: float, body: bytes | None = None
) -> tuple[Seen, list[float]]:
    """What callers were answered at what cost, and how long health took meanwhile; they send the
    demonstration's clip, or another."""
    said: Queue[Seen] = Queue()
    busy, used, own = machine_busy_seconds(), server.cpu_seconds(), sum(os.times()[:4])
    callers = Process(
        target=call, args=(address, connections, seconds, said, body or clip_body("face_on"))
    )
    callers.start()
    health = measure(address, seconds, ("/healthz",))["/healthz"]
    seen = said.get(timeout=seconds + 60)
    callers.join()
    used = server.cpu_seconds() - used
    ours = used + sum(os.times()[:4]) - own
    seen.cpu_ms = 1e3 * used / max(seen.statuses[200], 1)
    seen.others = (machine_busy_seconds() - busy - ours) / seen.seconds
    return seen, health


def call(address: str, connections: int, seconds: float, said: Queue[Seen], body: bytes) -> None:
    """Send over many connections for a while."""
    host, _, port = address.removeprefix("http://").partition(":")
    head = (
        f"POST /v1/swings/analyze HTTP/1.1\r\nHost: {host}\r\nContent-Type: application/json\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    )
    seen = Seen()

    async def one(caller: int) -> None:
        reader, writer = await asyncio.open_connection(host, int(port))
        while time.monotonic() < end:  # whoever is cut off fails the whole run
            begin = time.perf_counter()
            writer.write(head.encode() + body)
            answer = (await reader.readuntil(b"\r\n\r\n")).decode().lower()
            headers = dict(line.split(": ", 1) for line in answer.split("\r\n")[1:-2])
            await reader.readexactly(int(headers["content-length"]))
            seen.add(caller, int(answer.split()[1]), 1e3 * (time.perf_counter() - begin))
            with contextlib.suppress(KeyError):
                await asyncio.sleep(float(headers["retry-after"]))
        writer.close()

    async def many() -> None:
        await asyncio.gather(*map(one, range(connections)))

    begin = time.monotonic()
    end = begin + seconds
    asyncio.run(many())
    seen.seconds = time.monotonic() - begin
    said.put(seen)


if __name__ == "__main__":
    sys.exit(main())
