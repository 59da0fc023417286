"""How a worker shares itself out, and how soon it says again that it has what it has."""

from __future__ import annotations

import threading
from types import SimpleNamespace
from typing import Any, cast

import pytest

from service.use_cases.batches import lease
from service.use_cases.batches.work import Worker


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
