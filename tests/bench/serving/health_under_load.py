"""How long `/healthz` and `/readyz` take while the largest bodies come in.

``python -m tests.bench.serving.health_under_load [SECONDS]``. A real server in a process of its
own; callers send bodies of 16 MiB one after the other, plain and gzipped, of clips as long as are
taken and of what is refused.
"""

from __future__ import annotations

import gzip
import json
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from multiprocessing import Process, Queue
from queue import Empty

import httpx

from tests.coming_up import wait_for
from tests.ports import free_port

LARGEST = 16 * 1024 * 1024
SENDERS = 2
TARGET_MS = 100.0

Sent = tuple[int, float]
"""Status of an answer, and the seconds it took."""


def clip_of(size: int) -> bytes:
    """A request of just ``size`` bytes: 5,000 frames of as many points as go in."""
    rng = random.Random(7)
    frames, n_points = 5000, 150
    points = [f"[{rng.uniform(0, 999):.3f},{rng.uniform(0, 999):.3f}]" for _ in range(2000)]
    starts = [rng.randrange(len(points) - n_points) for _ in range(frames)]
    lines = ["[" + ",".join(points[start : start + n_points]) + "]" for start in starts]
    layout = json.dumps(["nose", "left_wrist", "right_wrist"] + [None] * (n_points - 3))
    head = '{"fps": 240, "layout": ' + layout + ', "keypoints": ['
    room = size - len(head) - 2
    kept, used = [], 0
    for line in lines:
        if used + len(line) + 1 > room:
            break
        kept.append(line)
        used += len(line) + 1
    return (head + ",".join(kept) + "]}").encode().ljust(size)


def bodies() -> dict[str, tuple[bytes, dict[str, str]]]:
    """What is sent, by name, each with its headers."""
    plain = {"Content-Type": "application/json"}
    packed = {**plain, "Content-Encoding": "gzip"}
    clip = clip_of(LARGEST)
    member = gzip.compress(b"")
    return {
        "plain clip": (clip, plain),
        "gzipped clip": (gzip.compress(clip, 6), packed),
        "empty members": (member * (LARGEST // len(member)), packed),
        "lists of nothing": ((b"[" + b"[]," * (LARGEST // 3)).ljust(LARGEST)[:LARGEST], plain),
        "small that unpacks": (gzip.compress(b"[" + b"[]," * (LARGEST // 3)), packed),
    }


def main() -> int:
    """Print the figures by what is sent; 1 when health took longer than it may."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 8.0
    with tempfile.TemporaryDirectory() as folder:
        address, process = serve(folder)
        try:
            print(f"{'idle':20s} {figures(measure(address, 3.0))}")
            worst = 0.0
            for name, (body, headers) in bodies().items():
                said: Queue[Sent] = Queue()
                senders = [
                    # processes, so that sending does not hold up measuring
                    Process(target=send, args=(address, body, headers, seconds, said))
                    for _ in range(SENDERS)
                ]
                for each in senders:
                    each.start()
                health = measure(address, seconds)
                sent = list(received(said, senders))
                worst = max(worst, percentile(health["/healthz"], 99))
                each_took = statistics.median(took for _, took in sent)
                answers = dict(Counter(status for status, _ in sent))
                print(
                    f"{name:20s} {figures(health)}  answers {answers}, {each_took:.2f} s each",
                    flush=True,
                )
        finally:
            process.terminate()
            process.wait(timeout=30)
    print(f"/healthz at the 99th percentile: at most {worst:.0f} ms, allowed {TARGET_MS:.0f} ms")
    return int(worst > TARGET_MS)


def serve(folder: str) -> tuple[str, subprocess.Popen[bytes]]:
    """Start a server; its address and its process."""
    port = free_port()
    environment = {
        **os.environ,
        "SWING_PORT": str(port),
        "SWING_DATABASE_URL": f"sqlite:///{folder}/records.db",
        "OPENBLAS_NUM_THREADS": "1",
    }
    command = [sys.executable, "-m", "service", "serve"]
    process = subprocess.Popen(command, env=environment, stderr=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    try:
        wait_for(address, process, 180)
    except RuntimeError:
        process.kill()
        raise
    return address, process


def send(
    address: str, body: bytes, headers: dict[str, str], seconds: float, said: Queue[Sent]
) -> None:
    """Send one body after the other for a while."""
    end = time.monotonic() + seconds
    with httpx.Client(timeout=120) as client:
        while time.monotonic() < end:
            begin = time.perf_counter()
            answer = client.post(f"{address}/v1/swings/analyze", content=body, headers=headers)
            said.put((answer.status_code, time.perf_counter() - begin))


def measure(
    address: str, seconds: float, paths: Sequence[str] = ("/healthz", "/readyz")
) -> dict[str, list[float]]:
    """Milliseconds that each answer took."""
    took: dict[str, list[float]] = {path: [] for path in paths}
    end = time.monotonic() + seconds
    with httpx.Client(timeout=60) as client:
        while time.monotonic() < end:
            for path, times in took.items():
                begin = time.perf_counter()
                client.get(address + path)
                times.append(1e3 * (time.perf_counter() - begin))
            time.sleep(0.02)
    return took


def received(said: Queue[Sent], senders: list[Process]) -> Iterator[Sent]:
    """What the senders were answered, once all are done."""
    while any(each.is_alive() for each in senders) or not said.empty():
        try:
            yield said.get(timeout=0.2)
        except Empty:
            continue


def percentile(values: list[float], percent: int) -> float:
    """By the nearest rank."""
    return sorted(values)[min(len(values) - 1, len(values) * percent // 100)]


def figures(took: dict[str, list[float]]) -> str:
    """Median, 99th percentile and longest of each path, in milliseconds."""
    return "  ".join(
        f"{path} p50 {percentile(times, 50):.0f} p99 {percentile(times, 99):.0f} "
        f"max {max(times):.0f} ms ({len(times)})"
        for path, times in took.items()
    )


if __name__ == "__main__":
    sys.exit(main())
