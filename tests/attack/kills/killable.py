"""Server, proxy and PostgreSQL as processes that can be killed with no chance to tidy up."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import httpx
import psycopg

from tests.bench.processes import Tree
from tests.ports import free_port

_STARTS_WITHIN: Final[float] = 120.0


class Killable:
    """A process with its children, started anew after each kill."""

    name = ""

    def __init__(
        self,
        command: Sequence[str],
        environment: dict[str, str] | None = None,
        folder: Path | None = None,
    ) -> None:
        self._command = command
        self._folder = folder
        self._environment = {**os.environ, **(environment or {})}
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start, and come back once it answers."""
        self._spawn()
        end = time.monotonic() + _STARTS_WITHIN
        while not self._answers():
            if time.monotonic() > end:
                raise RuntimeError(f"the {self.name} did not come up")
            if self._process is None or self._process.poll() is not None:
                time.sleep(0.5)  # what it left behind may take a while to be gone
                self._spawn()
            time.sleep(0.05)

    def kill(self) -> None:
        """Kill it and all its children."""
        if self._process is not None:
            os.killpg(self._process.pid, signal.SIGKILL)
            self._process.wait()

    def signal(self, number: int) -> None:
        """Send a signal to it and all that it started, in groups of their own too."""
        if self._process is not None:
            for pid in Tree(self._process.pid).pids():
                os.kill(pid, number)

    def _spawn(self) -> None:
        self._process = subprocess.Popen(
            self._command,
            env=self._environment,
            cwd=self._folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )

    def _answers(self) -> bool:
        raise NotImplementedError


class Server(Killable):
    """The service in two processes, of the code in a folder, by default the present one."""

    name = "server"

    def __init__(self, database_url: str, folder: Path | None = None) -> None:
        self.port = free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        environment = {
            "SWING_PORT": str(self.port),
            "SWING_WORKERS": "2",
            "SWING_DATABASE_URL": database_url,
            "OPENBLAS_NUM_THREADS": "1",
        }
        super().__init__([sys.executable, "-m", "service", "serve"], environment, folder)

    def _answers(self) -> bool:
        try:
            return httpx.get(f"{self.address}/healthz", timeout=30).is_success
        except httpx.HTTPError:
            return False


class Proxy(Killable):
    """Stands before a server."""

    name = "proxy"

    def __init__(self, target: int) -> None:
        self.port = free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        super().__init__(
            [sys.executable, "-m", "tests.attack.kills.proxy", str(self.port), str(target)]
        )

    def _answers(self) -> bool:
        try:
            socket.create_connection(("127.0.0.1", self.port), timeout=5).close()
        except OSError:
            return False
        return True


class Postgres(Killable):
    """A private PostgreSQL that writes to the disk as it does in earnest."""

    name = "PostgreSQL"

    def __init__(self, programs: Path) -> None:
        self._port = free_port()
        self._files = Path(tempfile.mkdtemp(prefix="killed-postgres-"))
        as_user: list[str] = []
        if os.getuid() == 0:  # the server refuses to run as root
            shutil.chown(self._files, "postgres")
            as_user = ["setpriv", "--reuid=postgres", "--regid=postgres", "--init-groups", "--"]
        data = str(self._files / "data")
        made = [*as_user, str(programs / "initdb"), "-D", data, "-U", "swing", "-A", "trust"]
        subprocess.run([*made, "-E", "UTF8"], check=True, stdout=subprocess.DEVNULL, cwd="/")
        listen = ["-p", str(self._port), "-c", "listen_addresses=127.0.0.1"]
        sockets = ["-c", f"unix_socket_directories={self._files}"]
        command = [*as_user, str(programs / "postgres"), "-D", data, *listen, *sockets]
        super().__init__(command, folder=Path("/"))
        self.url = f"postgresql+psycopg://swing@127.0.0.1:{self._port}/postgres"

    def remove(self) -> None:
        """Kill it and remove its files."""
        self.kill()
        shutil.rmtree(self._files, ignore_errors=True)

    def _answers(self) -> bool:
        try:
            psycopg.connect(
                f"host=127.0.0.1 port={self._port} user=swing dbname=postgres connect_timeout=5"
            ).close()
        except psycopg.OperationalError:
            return False
        return True


def postgres_programs() -> Path | None:
    """Where PostgreSQL's programs are, if it is installed."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    return found[-1].parent if found else None


@contextmanager
def running_postgres(programs: Path) -> Iterator[Postgres]:
    """A private PostgreSQL that is up; killed and its files removed afterwards."""
    postgres = Postgres(programs)
    try:
        postgres.start()
        yield postgres
    finally:
        postgres.remove()
