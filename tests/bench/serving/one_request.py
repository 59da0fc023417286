"""What one request costs beside a bare endpoint, and how even answers are under load.

``python -m tests.bench.serving.one_request [SECONDS]``, 60 unless told otherwise. A clip of 240
frames of COCO-17 goes to the service and to an endpoint of the same framework that only parses and
validates the same body with the same library (pydantic): once with the service's own model of a
request, which leaves the frames as they came, and once with every number checked. One request after
the other; the time is the processor's, of the server alone. Then the parts of the work in this
process, and 32 connections at once for so many seconds; at last as many as are taken in at once,
for a third of that each, with clips of 240 and of 2,000 frames.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

import httpx
from fastapi import FastAPI, Request
from pydantic import BaseModel

from service.analysis.analyse import analyse
from service.api.schemas.analysis import to_answer
from service.intake.recording import read_clip
from service.intake.request import SwingRequest
from service.observing.metrics import Metrics
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.bench.archive.made import requests
from tests.bench.processes import Tree
from tests.bench.serving.health_under_load import percentile, serve
from tests.bench.serving.throughput import Seen, load
from tests.ports import free_port

CONNECTIONS = 32
CROWD = 64
FRAMES = (240, 2000)
ONE_AFTER_THE_OTHER = 200
MOST_TIMES = 3.0
MOST_SPREAD = 5.0
PATH = "/v1/swings/analyze"

Done = TypeVar("Done")


class Frames(BaseModel):
    """A request with every number of its frames checked."""

    keypoints: list[list[list[float] | None]]
    layout: str
    fps: float
    client_reference: str | None = None


bare = FastAPI()


@bare.get("/readyz")
async def ready() -> dict[str, bool]:
    """It is."""
    return {"ready": True}


@bare.post("/fields")
async def fields(request: Request) -> dict[str, bool]:
    """Parse, and check the fields as the service does."""
    SwingRequest.model_validate_json(await request.body())
    return {"valid": True}


@bare.post("/numbers")
async def numbers(request: Request) -> dict[str, bool]:
    """Parse, and check every number."""
    Frames.model_validate_json(await request.body())
    return {"valid": True}


def main() -> int:
    """Print the figures beside what they may be; 1 when one is missed."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    body = json.dumps(next(requests(1))).encode()
    print(f"{os.cpu_count()} cores; a body of {len(body) / 1e3:.0f} kB")
    with serve_bare() as (address, process):
        least = {path: _cost(address + path, Tree(process.pid), body)[0] for path in BARE}
    for path, spent in least.items():
        print(f"bare endpoint {path}: {spent:.2f} ms of processor time")
    with tempfile.TemporaryDirectory() as folder:
        address, process = serve(folder)
        try:
            server = Tree(process.pid)
            time.sleep(5.0)
            spent, in_loop = _cost(address + PATH, server, body)
            times = spent / least["/numbers"]
            print(
                f"the service: {spent:.2f} ms, {spent / least['/fields']:.1f} and {times:.1f} "
                f"times (wanted: at most {MOST_TIMES:g}){_missed(times > MOST_TIMES)}"
            )
            print(f"of which in its event loop: {in_loop:.2f} ms")
            print(f"in this process, median: {_parts(body)}")
            seen, _ = load(address, server, CONNECTIONS, seconds)
            print(f"{CONNECTIONS} connections, {seconds:g} s: {seen.told()}", flush=True)
            crowds = list(_crowds(address, server, seconds / 3.0))
        finally:
            process.terminate()
            process.wait(timeout=60)
    spread = percentile(seen.took, 99) / percentile(seen.took, 50)
    statuses = sum((each.statuses for each in (seen, *crowds)), Counter[int]())
    wrong = statuses.total() - statuses[200]
    uneven = _missed(spread > MOST_SPREAD)
    print(f"of {CONNECTIONS}, p99 {spread:.2f} times the median (at most {MOST_SPREAD:g}){uneven}")
    print(f"answers other than 200: {wrong} (none){_missed(wrong > 0)}")
    return int(times > MOST_TIMES or spread > MOST_SPREAD or wrong > 0)


def _crowds(address: str, server: Tree, seconds: float) -> Iterator[Seen]:
    """As many callers as are taken in at once, with ordinary clips and with long ones."""
    for frames in FRAMES:
        before = server.peak_mib()
        seen, _ = load(address, server, CROWD, seconds, _clip_of(frames))
        most, least = max(seen.answered.values()), min(seen.answered[k] for k in range(CROWD))
        spread = percentile(seen.took, 99) / percentile(seen.took, 50)
        print(
            f"{CROWD} connections, {frames} frames: {seen.told()}, p99 {spread:.2f} times the "
            f"median, {least} to {most} answers each, memory {before:.0f} to "
            f"{server.peak_mib():.0f} MiB at most",
            flush=True,
        )
        yield seen


def _clip_of(frames: int) -> bytes:
    """A swing after which the player stands still."""
    request = next(requests(1))
    clip = request["keypoints"]
    return json.dumps({**request, "keypoints": clip + clip[-1:] * (frames - len(clip))}).encode()


BARE = ("/fields", "/numbers")


def _missed(is_missed: bool) -> str:
    return "  MISSED" if is_missed else ""


def _cost(url: str, server: Tree, body: bytes) -> tuple[float, float]:
    """Processor time of the server for one request, and of that its event loop's; milliseconds,
    warm."""
    headers = {"Content-Type": "application/json"}
    with httpx.Client(timeout=60) as client:
        for _ in range(ONE_AFTER_THE_OTHER // 10):
            client.post(url, content=body, headers=headers).raise_for_status()
        before, in_loop = server.cpu_seconds(), server.first_thread_seconds()
        for _ in range(ONE_AFTER_THE_OTHER):
            client.post(url, content=body, headers=headers).raise_for_status()
        spent = server.cpu_seconds() - before, server.first_thread_seconds() - in_loop
    all_of_it, loop = (1e3 * each / ONE_AFTER_THE_OTHER for each in spent)
    return all_of_it, loop


def _parts(body: bytes) -> str:
    """Processor time of each part of the work on a request, without sockets and framework."""
    analyser = Analyser.of(Settings(database_url=""))
    metrics = Metrics(analyser.classifier)
    took: dict[str, list[float]] = {}

    def timed(name: str, work: Callable[..., Done], *given: Any) -> Done:
        begin = time.thread_time()
        done = work(*given)
        took.setdefault(name, []).append(1e3 * (time.thread_time() - begin))
        return done

    for _ in range(ONE_AFTER_THE_OTHER):
        recording, reference = timed("reading", read_clip, body, analyser.limits)
        analysis = timed("analysing", analyse, recording, analyser.classifier)
        timed("counting", metrics.analysis, analysis, 0.01)
        answer = timed("the answer", to_answer, analysis, reference)
        timed("writing it", answer.model_dump_json)
    parts = (f"{name} {statistics.median(times):.2f}" for name, times in took.items())
    return ", ".join(parts) + " ms"


@contextmanager
def serve_bare() -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """The bare endpoints, served as the service is."""
    port = free_port()
    command = [sys.executable, "-m", "uvicorn", "tests.bench.serving.one_request:bare"]
    process = subprocess.Popen([*command, "--port", str(port), "--log-level", "error"])
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(600):
            try:
                httpx.get(f"{address}/readyz")
                break
            except httpx.HTTPError:
                time.sleep(0.1)
        yield address, process
    finally:
        process.terminate()
        process.wait(timeout=60)


if __name__ == "__main__":
    sys.exit(main())
