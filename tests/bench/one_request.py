"""What one request costs beside a bare endpoint, and how even answers are under load.

``python -m tests.bench.one_request [SECONDS]``, 60 unless told otherwise. A clip of 240 frames of
COCO-17 goes to the service and to an endpoint of the same framework that only parses and validates
the same body with the same library (pydantic): once with the service's own model of a request,
which leaves the frames as they came, and once with every number checked. One request after the
other; the time is the processor's, of the server alone. Then 32 connections at once for so many
seconds.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager

import httpx
from fastapi import FastAPI, Request
from pydantic import BaseModel

from service.intake.request import SwingRequest
from tests.bench.archive.made import requests
from tests.bench.health_under_load import percentile, serve
from tests.bench.processes import Tree
from tests.bench.throughput import load
from tests.ports import free_port

CONNECTIONS = 32
ONE_AFTER_THE_OTHER = 200
MOST_TIMES = 3.0
MOST_SPREAD = 5.0
PATH = "/v1/swings/analyze"


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
        least = {path: _cost(address + path, Tree(process.pid), body) for path in BARE}
    for path, spent in least.items():
        print(f"bare endpoint {path}: {spent:.2f} ms of processor time")
    with tempfile.TemporaryDirectory() as folder:
        address, process = serve(folder)
        try:
            server = Tree(process.pid)
            time.sleep(5.0)
            spent = _cost(address + PATH, server, body)
            times = spent / least["/numbers"]
            print(
                f"the service: {spent:.2f} ms, {spent / least['/fields']:.1f} and {times:.1f} "
                f"times (wanted: at most {MOST_TIMES:g}){_missed(times > MOST_TIMES)}"
            )
            seen, _ = load(address, server, CONNECTIONS, seconds)
        finally:
            process.terminate()
            process.wait(timeout=60)
    spread = percentile(seen.took, 99) / percentile(seen.took, 50)
    wrong = sum(count for status, count in seen.statuses.items() if status != 200)
    print(f"{CONNECTIONS} connections, {seconds:g} s: {seen.told()}")
    uneven = _missed(spread > MOST_SPREAD)
    print(f"p99 {spread:.2f} times the median (at most {MOST_SPREAD:g}){uneven}")
    print(f"answers other than 200: {wrong} (none){_missed(wrong > 0)}")
    return int(times > MOST_TIMES or spread > MOST_SPREAD or wrong > 0)


BARE = ("/fields", "/numbers")


def _missed(is_missed: bool) -> str:
    return "  MISSED" if is_missed else ""


def _cost(url: str, server: Tree, body: bytes) -> float:
    """Processor time of the server for one request, in milliseconds, warm."""
    headers = {"Content-Type": "application/json"}
    with httpx.Client(timeout=60) as client:
        for _ in range(ONE_AFTER_THE_OTHER // 10):
            client.post(url, content=body, headers=headers).raise_for_status()
        before = server.cpu_seconds()
        for _ in range(ONE_AFTER_THE_OTHER):
            client.post(url, content=body, headers=headers).raise_for_status()
        return 1e3 * (server.cpu_seconds() - before) / ONE_AFTER_THE_OTHER


@contextmanager
def serve_bare() -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """The bare endpoints, served as the service is."""
    port = free_port()
    command = [sys.executable, "-m", "uvicorn", "tests.bench.one_request:bare"]
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
