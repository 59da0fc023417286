"""Waiting for a server in a process of its own."""

from __future__ import annotations

import subprocess
import time

import httpx


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
