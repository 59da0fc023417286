from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from tests.api.clips import BODY_LIMIT, MAX_FRAMES
from tests.coming_up import served


@pytest.fixture(scope="session")
def client() -> Iterator[TestClient]:
    with TestClient(
        create_app(Settings(max_body_bytes=BODY_LIMIT, max_frames=MAX_FRAMES))
    ) as client:
        yield client


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """Base address of a real server in a process of its own."""
    settings = {"SWING_MAX_BODY_BYTES": str(BODY_LIMIT), "OMP_NUM_THREADS": "1"}
    with served(settings) as up:
        yield up.address
