"""Holes in what the service says of itself and of its database."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import httpx
from sqlalchemy import make_url

from service.demo import clip_body
from tests.attack.holes.doors import ready_under_load
from tests.attack.holes.served import ANALYSE, JSON, Code, Served, served
from tests.attack.kills.killable import postgres_programs, running_postgres
from tests.ports import free_port

_PLAYER: Final[bytes] = b'{"name": "Nobody Invented"}'
_STARTS: Final[float] = 15.0
"""Seconds after which a server that has not ended is up."""


def ready(code: Code) -> str:
    """`/readyz` with a database or models that fail, and under load."""
    told = [f"{name}: /readyz {_ready(code, name)}" for name in ("gone", "corrupt", "unmigrated")]
    return "; ".join([*told, f"models broken: {_models(code)}", ready_under_load(code)])


def _ready(code: Code, how: str) -> str:
    migrate = "false" if how == "unmigrated" else "true"
    with served(code, SWING_MIGRATE_ON_START=migrate) as server:
        for file in server.files.glob("records.db*"):
            if how == "gone":
                file.unlink()
            elif how == "corrupt":
                file.write_bytes(b"no database" * 4096)
        return _asked(server)


def _asked(server: Served) -> str:
    begin = time.perf_counter()
    answer = httpx.get(f"{server.address}/readyz", timeout=60)
    return f"{answer.status_code} in {time.perf_counter() - begin:.1f} s"


@contextmanager
def _bent_models(code: Code) -> Iterator[Path]:
    """A copy of the models in which every network has other bytes than it was written with."""
    with TemporaryDirectory() as folder:
        models = Path(shutil.copytree(code.folder / "models", Path(folder) / "models"))
        for file in models.rglob("*.onnx"):
            content = bytearray(file.read_bytes())
            middle = len(content) // 2
            content[middle : middle + 64] = bytes(64)
            file.write_bytes(content)
        yield models


def _models(code: Code) -> str:
    """What comes of models that were changed after they were written."""
    with _bent_models(code) as models:
        try:
            with served(code, SWING_MODEL_DIR=str(models)) as server:
                said, _ = server.post(ANALYSE, clip_body("face_on"))
                served_as = httpx.get(f"{server.address}/readyz", timeout=60)
                told = "rules judge alone" in served_as.text
                told_so = ", said to be rules" if told else ", not a word of it"
                return f"/readyz {served_as.status_code}{told_so}, an analysis {said}"
        except RuntimeError:
            return "the server does not start"


def models(code: Code) -> str:
    """Models that were changed after they were written."""
    return _models(code)


def hung(code: Code) -> str:
    """A PostgreSQL that stops answering: a write, and an analysis that keeps nothing."""
    programs = postgres_programs()
    if programs is None:
        return "PostgreSQL is not installed"
    with running_postgres(programs) as postgres:
        with served(code, SWING_DATABASE_URL=postgres.url) as server:
            server.post("/v1/players", _PLAYER)
            postgres.signal(signal.SIGSTOP)
            try:
                with ThreadPoolExecutor(8) as writers:
                    sent = [writers.submit(server.post, "/v1/players", _PLAYER) for _ in range(8)]
                    time.sleep(0.5)
                    analysed = server.post(ANALYSE, clip_body("face_on"))
                    wrote = [each.result() for each in sent]
            finally:
                postgres.signal(signal.SIGCONT)
        longest = max(took for _, took in wrote)
        answers = sorted({said for said, _ in wrote})
        return (
            f"8 writes: {' and '.join(answers)} after {longest:.0f} s at most; analysing without "
            f"keeping meanwhile: {analysed[0]} after {analysed[1]:.1f} s"
        )


def lost_confirmation(code: Code) -> str:
    """What is said of a write whose confirmation was lost on its way from the database."""
    programs = postgres_programs()
    if programs is None:
        return "PostgreSQL is not installed"
    with running_postgres(programs) as postgres:
        port = free_port()
        cutting = _Cutting(port, make_url(postgres.url).port or 0)
        url = make_url(postgres.url).set(port=port).render_as_string(hide_password=False)
        with served(code, SWING_DATABASE_URL=url) as server:
            cutting.armed.set()
            write = f"{server.address}/v1/players"
            answer = httpx.post(write, content=_PLAYER, headers=JSON, timeout=60)
            cutting.armed.clear()
            kept = httpx.get(f"{server.address}/v1/players", timeout=60).json()
        known = len(kept.get("items", []))
        said = answer.json().get("detail", "")
        return f'written {known} times, told {answer.status_code}: "{said}"'


class _Cutting:
    """Hands bytes on to a database; armed, it cuts the connection on which a player was written
    once its COMMIT went by."""

    def __init__(self, port: int, target: int) -> None:
        self.armed = threading.Event()
        self._target = target
        self._listening = socket.create_server(("127.0.0.1", port))
        threading.Thread(target=self._take, daemon=True).start()

    def _take(self) -> None:
        while True:
            caller, _ = self._listening.accept()
            target = socket.create_connection(("127.0.0.1", self._target))
            for source, sink in ((caller, target), (target, caller)):
                threading.Thread(target=self._pump, args=(source, sink), daemon=True).start()

    def _pump(self, source: socket.socket, sink: socket.socket) -> None:
        wrote = False
        try:
            while data := source.recv(65536):
                sink.sendall(data)
                wrote |= b"INSERT INTO player" in data
                if self.armed.is_set() and wrote and b"COMMIT" in data:
                    source.shutdown(socket.SHUT_RDWR)
                    time.sleep(0.5)
                    break
        except OSError:
            pass
        for each in (source, sink):
            each.close()


def foreign(code: Code) -> str:
    """What starting with a database that is none of this version's comes to."""
    with TemporaryDirectory() as made:
        garbage, newer = Path(made) / "garbage.db", Path(made) / "newer.db"
        garbage.write_bytes(b"no database" * 4096)
        with sqlite3.connect(newer) as database:
            database.execute("CREATE TABLE alembic_version (version_num TEXT)")
            database.execute("INSERT INTO alembic_version VALUES ('from later')")
        urls = {
            "a corrupt file": f"sqlite:///{garbage}",
            "a newer database": f"sqlite:///{newer}",
            "a URL of another kind": "mysql://somewhere/else",
        }
        return ", ".join(f"{name}: {_start(code, url)}" for name, url in urls.items())


def _start(code: Code, url: str) -> str:
    environment = {**os.environ, "SWING_DATABASE_URL": url, "SWING_PORT": str(free_port())}
    try:
        ran = subprocess.run(
            code.command("serve"),
            cwd=code.folder,
            env=environment,
            capture_output=True,
            text=True,
            timeout=_STARTS,
        )
    except subprocess.TimeoutExpired as still:
        return f"serves{_trace(still.stderr or b'')}"
    return f"ends with {ran.returncode}{_trace(ran.stderr.encode())}"


def _trace(said: bytes) -> str:
    return " and a traceback" if b"Traceback" in said else ", told in words"
