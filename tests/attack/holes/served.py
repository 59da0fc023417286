"""A server of some version's code, in a process of its own."""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import httpx

from tests.coming_up import wait_for
from tests.ports import free_port

JSON: Final[dict[str, str]] = {"Content-Type": "application/json"}
PACKED: Final[dict[str, str]] = {**JSON, "Content-Encoding": "gzip"}
ANALYSE: Final[str] = "/v1/swings/analyze"
GIVES_UP: Final[float] = 60.0
"""Seconds after which an answer is waited for no longer."""
_STARTS_WITHIN: Final[float] = 180.0


@dataclass(frozen=True)
class Code:
    """Some version's code, as files in a folder."""

    folder: Path

    def command(self, *words: str) -> list[str]:
        """A command of it."""
        return [sys.executable, "-m", "service", *words]


@dataclass
class Served:
    """A running server and the folder that is all its own."""

    address: str
    process: subprocess.Popen[bytes]
    files: Path
    longest_health: float = field(default=0.0)

    @property
    def port(self) -> int:
        return int(self.address.rpartition(":")[2])

    @property
    def log(self) -> Path:
        return self.files / "log"

    def peak_mib(self) -> int:
        """The most memory that the process has held."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(status.partition("VmHWM:")[2].split()[0]) >> 10

    def post(self, path: str, body: bytes, headers: dict[str, str] = JSON) -> tuple[str, float]:
        """Status, or what went wrong, and the seconds until then."""
        begin = time.perf_counter()
        try:
            with httpx.Client(timeout=GIVES_UP) as client:
                sent = client.post(self.address + path, content=body, headers=headers)
            said = str(sent.status_code)
        except httpx.HTTPError as error:
            said = type(error).__name__
        return said, time.perf_counter() - begin

    @contextmanager
    def health_watched(self) -> Iterator[None]:
        """Note how long `/healthz` takes at most meanwhile."""
        enough = threading.Event()

        def ask() -> None:
            while not enough.is_set():
                begin = time.perf_counter()
                with suppress(httpx.HTTPError):
                    httpx.get(f"{self.address}/healthz", timeout=GIVES_UP)
                self.longest_health = max(self.longest_health, time.perf_counter() - begin)
                time.sleep(0.02)

        asking = threading.Thread(target=ask)
        asking.start()
        yield
        enough.set()
        asking.join()


@contextmanager
def served(code: Code, *, descriptors: int | None = None, **settings: str) -> Iterator[Served]:
    """Serve until the end of the block.

    Parameters
    ----------
    descriptors
        How many files the process may open.
    settings
        More of its environment.
    """
    with TemporaryDirectory() as made:
        files = Path(made)
        port = free_port()
        with (files / "log").open("wb") as log:
            process = subprocess.Popen(
                code.command("serve"),
                cwd=code.folder,
                env={
                    **_environment(),
                    "OPENBLAS_NUM_THREADS": "1",
                    "SWING_PORT": str(port),
                    "SWING_DATABASE_URL": f"sqlite:///{files / 'records.db'}",
                    **settings,
                },
                stdout=log,
                stderr=log,
                start_new_session=True,
                preexec_fn=_bounded(descriptors),
            )
        server = Served(f"http://127.0.0.1:{port}", process, files)
        try:
            wait_for(server.address, process, _STARTS_WITHIN)
            yield server
        finally:
            _end(process)


def _environment() -> dict[str, str]:
    """Ours, without what this version's code has put there."""
    return {k: v for k, v in os.environ.items() if not k.startswith(("ORT_", "XDG_"))}


def _bounded(descriptors: int | None) -> Callable[[], None] | None:
    if descriptors is None:
        return None
    most = (descriptors, descriptors)
    return lambda: resource.setrlimit(resource.RLIMIT_NOFILE, most)


def _end(process: subprocess.Popen[bytes]) -> None:
    """End it with all that it started, whether it wants to or not."""
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        return
    process.wait()
