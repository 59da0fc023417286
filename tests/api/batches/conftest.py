from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.api.schemas.many.lines import to_line
from service.app import create_app
from service.records import Database
from service.settings import Settings
from service.use_cases.batches.webhook import Sender
from service.use_cases.batches.work import Worker, WorkerSetup
from tests.records.kept import RULES

MAX_BODY = 1_000_000


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    """The archive of the academy that everybody is of in open mode."""
    folder = tmp_path / "archive" / "default"
    folder.mkdir(parents=True)
    return folder


@pytest.fixture
def client(database_url: str, archive: Path) -> Iterator[TestClient]:
    settings = Settings(
        database_url=database_url,
        migrate_on_start=False,
        archive_root=archive.parent,
        max_body_bytes=MAX_BODY,
        webhook_private=True,
    )
    app = create_app(settings)
    app.state.analyser = RULES
    with TestClient(app) as client:
        yield client


@pytest.fixture
def make_worker(database: Database, archive: Path) -> Callable[..., Worker]:
    """Makes workers in this process that do one thing a turn."""

    def make(**changes: Any) -> Worker:
        parts: dict[str, Any] = {
            "database": database,
            "analyser": lambda: RULES,
            "told": to_line,
            "sender": Sender(private=True),
            "archive": archive.parent,
            "lease": 60.0,
            "longest": MAX_BODY,
        }
        return Worker(WorkerSetup(**{**parts, **changes}))

    return make


@pytest.fixture
def work(make_worker: Callable[..., Worker]) -> Callable[[], int]:
    """Works until there is nothing to do; how many turns that took."""

    def run() -> int:
        worker, stopped, turns = make_worker(), threading.Event(), 0
        while worker.turn(stopped) | worker.tell_turn(stopped):
            turns += 1
        return turns

    return run
