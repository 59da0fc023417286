"""A server in a process of its own, started and waited for."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import IO

import httpx

from tests.ports import free_port


@dataclass(frozen=True)
class Served:
    """A service that is up."""

    port: int
    process: subprocess.Popen[bytes]

    @property
    def address(self) -> str:
        """Where it is asked."""
        return f"http://127.0.0.1:{self.port}"


@contextmanager
def served(
    settings: Mapping[str, str],
    log: IO[bytes] | int = subprocess.DEVNULL,
    path: str = "/healthz",
    before: Callable[[], object] | None = None,
) -> Iterator[Served]:
    """A service on a free port, with settings besides those of the environment.

    Parameters
    ----------
    path
        What is answered with a success once it is up.
    before
        Called in the new process before the service.
    """
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, "-m", "service", "serve"],
        env={**os.environ, "SWING_PORT": str(port), **settings},
        stderr=log,
        preexec_fn=before,
    )
    up = Served(port, process)
    try:
        wait_for(up.address, process, path=path)
        yield up
    finally:
        process.terminate()
        process.wait(timeout=60)


def wait_for(
    address: str,
    process: subprocess.Popen[bytes],
    seconds: float = 120.0,
    path: str = "/healthz",
) -> None:
    """Return once a service answers at a path of its address with a success.

    Raises
    ------
    RuntimeError
        When its process ends before, or these seconds pass.
    """
    end = time.monotonic() + seconds
    with httpx.Client(timeout=30) as client:  # one, as making it takes as long as many calls
        while time.monotonic() < end and process.poll() is None:
            try:
                if client.get(address + path).is_success:
                    return
            except httpx.HTTPError:
                pass
            time.sleep(0.05)
    raise RuntimeError("the server did not come up")
