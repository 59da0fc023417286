"""How a worker shares itself out, and how soon it says again that it has what it has."""

from __future__ import annotations

import threading
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any, cast

import pytest
from fastapi.testclient import TestClient

from service.records import Database
from service.records.batches import queue
from service.use_cases.batches import lease
from service.use_cases.batches import work as working
from service.use_cases.batches.work import Worker
from tests.api.batches.sending import bodies, results, send, state


def test_academies_take_turns_at_being_served_first(monkeypatch: pytest.MonkeyPatch) -> None:
    served: list[str] = []

    def do_one(_: object, __: object, academy_id: str, stopped: threading.Event) -> bool:
        served.append(academy_id)
        stopped.set()
        return True

    monkeypatch.setattr(Worker, "_academies", lambda _: ["north", "south", "west"])
    monkeypatch.setattr(Worker, "_do_one", do_one)
    shop = SimpleNamespace(database=SimpleNamespace(on_behalf=lambda behalf: behalf))
    worker = Worker(cast(Any, shop))
    assert all(worker.turn(threading.Event()) for _ in range(6))
    assert sorted(served) == ["north", "north", "south", "south", "west", "west"]


def test_a_lease_is_renewed_in_time_also_where_one_renewal_fails() -> None:
    waits: list[float] = []

    def wait(seconds: float) -> bool:
        waits.append(seconds)
        return True

    unasked = cast(Any, None)
    lease._renew(unasked, unasked, 15.0, cast(Any, SimpleNamespace(wait=wait)))
    assert 2 * waits[0] < 15.0


def test_a_piece_over_which_workers_die_again_and_again_is_given_up_in_words(
    client: TestClient,
    work: Callable[[], int],
    database: Database,
    caplog: pytest.LogCaptureFixture,
) -> None:
    batch = send(client, *bodies(2))
    for _ in range(working._MOST_ATTEMPTS):
        with database.writing() as session:
            assert queue.take(session, "a worker that dies", -1.0) is not None
    work()
    assert state(client, batch)["state"] == "done"
    found = results(client, batch)
    assert [line["status"] for line in found] == [500, 500]
    assert "Report the batch and the line" in found[0]["problem"]["detail"]
    logged = [record.exc_text or str(record.exc_info) for record in caplog.records]
    assert any("8 workers died over it" in text for text in logged)
