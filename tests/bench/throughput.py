"""How many swings a second are analysed by threads and by processes, and how long each takes.

``python -m tests.bench.throughput [SECONDS [SETTING]]``. A real server with one process and one
thread, one process and four threads, and two processes of one thread each; callers in a process of
their own send the demonstration's clip over 16 and 200 connections, one request after the other,
and who is told to come again waits as long as `Retry-After` says. Callers and server share the
machine, so that figures tell something only where nothing else runs.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from multiprocessing import Process, Queue

from service.demo import clip_body
from tests.bench.health_under_load import measure, percentile, serve

SETTINGS = (("1 process, 1 thread", 1, 1), ("1 process, 4 threads", 1, 4), ("2 processes", 2, 1))
CONNECTIONS = (16, 200)


@dataclass
class Seen:
    """What the callers of one run were answered."""

    seconds: float = 0.0
    statuses: Counter[int] = field(default_factory=Counter)
    took: list[float] = field(default_factory=list)
    """Milliseconds of each swing analysed."""
    told_off: list[float] = field(default_factory=list)
    """Milliseconds until a caller was told to come again."""

    def add(self, status: int, milliseconds: float) -> None:
        self.statuses[status] += 1
        (self.took if status == 200 else self.told_off).append(milliseconds)

    def told(self) -> str:
        """In one line."""
        rate = self.statuses[200] / self.seconds
        text = (
            f"{rate:5.1f} swings/s, p50 {percentile(self.took, 50):.0f} "
            f"p99 {percentile(self.took, 99):.0f} ms"
        )
        if self.told_off:
            text += f", told off in p99 {percentile(self.told_off, 99):.0f} ms"
        return f"{text}, answers {dict(self.statuses)}"


def main() -> int:
    """Print the figures by setting and number of connections."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 8.0
    chosen = [each for each in SETTINGS if " ".join(sys.argv[2:]) in each[0]]
    for name, workers, threads in chosen:
        os.environ["SWING_WORKERS"] = str(workers)
        os.environ["SWING_ANALYSIS_THREADS"] = str(threads)
        with tempfile.TemporaryDirectory() as folder:
            address, process = serve(folder)
            try:
                time.sleep(3.0)  # every process is up
                for connections in CONNECTIONS:
                    seen, health = load(address, connections, seconds)
                    print(
                        f"{name:20s} {connections:3d} connections: {seen.told()}; "
                        f"/healthz p99 {percentile(health, 99):.0f} ms",
                        flush=True,
                    )
            finally:
                process.terminate()
                process.wait(timeout=60)
    return 0


def load(address: str, connections: int, seconds: float) -> tuple[Seen, list[float]]:
    """What callers were answered, and how long health took meanwhile."""
    said: Queue[Seen] = Queue()
    callers = Process(target=call, args=(address, connections, seconds, said))
    callers.start()
    health = measure(address, seconds)["/healthz"]
    seen = said.get(timeout=seconds + 30)
    callers.join()
    return seen, health


def call(address: str, connections: int, seconds: float, said: Queue[Seen]) -> None:
    """Send over many connections for a while."""
    host, _, port = address.removeprefix("http://").partition(":")
    body = clip_body("face_on")
    head = (
        f"POST /v1/swings/analyze HTTP/1.1\r\nHost: {host}\r\nContent-Type: application/json\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    )
    seen = Seen()

    async def one() -> None:
        reader, writer = await asyncio.open_connection(host, int(port))
        while time.monotonic() < end:  # whoever is cut off fails the whole run
            begin = time.perf_counter()
            writer.write(head.encode() + body)
            answer = (await reader.readuntil(b"\r\n\r\n")).decode().lower()
            headers = dict(line.split(": ", 1) for line in answer.split("\r\n")[1:-2])
            await reader.readexactly(int(headers["content-length"]))
            seen.add(int(answer.split()[1]), 1e3 * (time.perf_counter() - begin))
            with contextlib.suppress(KeyError):
                await asyncio.sleep(float(headers["retry-after"]))
        writer.close()

    async def many() -> None:
        await asyncio.gather(*(one() for _ in range(connections)))

    begin = time.monotonic()
    end = begin + seconds
    asyncio.run(many())
    seen.seconds = time.monotonic() - begin
    said.put(seen)


if __name__ == "__main__":
    sys.exit(main())
