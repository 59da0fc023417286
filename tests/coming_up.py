"""Waiting for a server in a process of its own."""

from __future__ import annotations

import subprocess
import time

import httpx


def wait_for(address: str, process: subprocess.Popen[bytes], seconds: float = 60.0) -> None:
    """Return once a service answers at an address.

    Raises
    ------
    RuntimeError
        When its process ends before, or these seconds pass.
    """
    end = time.monotonic() + seconds
    while time.monotonic() < end and process.poll() is None:
        try:
            httpx.get(f"{address}/healthz", timeout=30)
        except httpx.HTTPError:
            time.sleep(0.05)
        else:
            return
    raise RuntimeError("the server did not come up")
