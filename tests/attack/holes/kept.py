"""Holes in what is kept, written and finished."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import httpx

from service.demo import clip_body
from tests.attack.holes.served import ANALYSE, JSON, Code, Served, served

_MARK: Final[bytes] = b"Quillonia Invented"
_LEAVES: Final[float] = 60.0
_LATER: Final[float] = 4.0
"""Seconds after which what comes late has come: telemetry, and tidying up."""


def telemetry(code: Code) -> str:
    """Files under the home folder once a swing was analysed."""
    with TemporaryDirectory() as home:
        with served(code, HOME=home) as server:
            server.post(ANALYSE, clip_body("face_on"))
            time.sleep(_LATER)
        found = sorted(str(f.relative_to(home)) for f in Path(home).rglob("*") if f.is_file())
        return f"files written under the home folder: {', '.join(found) or 'none'}"


def forgotten(code: Code) -> str:
    """Whether the name of a player who was deleted beside a reader is still in the files."""
    with served(code) as server, httpx.Client(base_url=server.address, timeout=60) as client:
        made = client.post("/v1/players", json={"name": _MARK.decode(), "note": 50 * "x"}).json()
        path = f"/v1/players/{made['id']}"
        with closing(sqlite3.connect(server.files / "records.db", isolation_level=None)) as reader:
            reader.execute("BEGIN")
            reader.execute("SELECT count(*) FROM player").fetchone()
            gone = client.delete(path, headers={"If-Match": client.get(path).headers["etag"]})
        time.sleep(_LATER)  # after the reader has let go
        files = sorted(server.files.glob("records.db*"))
        still = [f.name for f in files if _MARK in f.read_bytes()]
        modes = {oct(f.stat().st_mode & 0o777)[2:] for f in files}
    told = f"deleted ({gone.status_code}), the name still in {', '.join(still) or 'no file'}"
    return f"{told}, file modes {', '.join(sorted(modes))}; by default in {_default_place(code)}"


def _default_place(code: Code) -> str:
    script = "from service.settings import Settings; print(Settings().database_url)"
    environment = {k: v for k, v in os.environ.items() if not k.startswith("SWING_")}
    ran = subprocess.run(
        [*code.command()[:1], "-c", script],
        cwd=code.folder,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    url = ran.stdout.strip().removeprefix("sqlite:///")
    return "a folder of its own" if url.startswith("/") else "the working directory"


def shutdown(code: Code) -> str:
    """Told to stop with 8 analyses taken in, and then with a body that never ends."""
    return f"with 8 clips: {_stopped(code, True)}; with half a body: {_stopped(code, False)}"


def _stopped(code: Code, whole: bool) -> str:
    with served(code) as server, ThreadPoolExecutor(8) as callers:
        if whole:
            sent = [callers.submit(server.post, ANALYSE, clip_body("face_on")) for _ in range(8)]
        else:
            sent = [callers.submit(_half, server)]
        time.sleep(0.5)
        begin = time.monotonic()
        server.process.send_signal(signal.SIGTERM)
        try:
            server.process.wait(_LEAVES)
            took = f"gone after {time.monotonic() - begin:.1f} s"
        except subprocess.TimeoutExpired:
            took = f"still there after {_LEAVES:g} s"
            server.process.kill()
        finished = [each.result()[0] for each in sent].count("200")
        return f"{took}, {finished} of {len(sent)} finished" if whole else took


def _half(server: Served) -> tuple[str, float]:
    """A body that comes a little at a time until it is cut off."""

    def drip() -> object:
        for _ in range(int(2 * _LEAVES)):
            yield b" " * 3000
            time.sleep(1.0)

    begin = time.monotonic()
    try:
        headers = {**JSON, "Content-Length": "1000000"}
        httpx.post(server.address + ANALYSE, content=drip(), headers=headers, timeout=5)  # type: ignore[arg-type]
    except httpx.HTTPError:
        pass
    return "cut off", time.monotonic() - begin
