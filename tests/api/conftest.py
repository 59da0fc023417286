from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from tests.api.clips import BODY_LIMIT, MAX_FRAMES
from tests.coming_up import wait_for
from tests.ports import free_port


@pytest.fixture(scope="session")
def client() -> Iterator[TestClient]:
    with TestClient(
        create_app(Settings(max_body_bytes=BODY_LIMIT, max_frames=MAX_FRAMES))
    ) as client:
        yield client


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """Base address of a real server in a process of its own."""
    port = free_port()
    environment = {
        **os.environ,
        "SWING_PORT": str(port),
        "SWING_MAX_BODY_BYTES": str(BODY_LIMIT),
        "OMP_NUM_THREADS": "1",
    }
    command = [sys.executable, "-m", "service", "serve"]
    process = subprocess.Popen(command, env=environment, stderr=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    try:
        wait_for(address, process)
        yield address
    finally:
        process.terminate()
        process.wait(timeout=60)
