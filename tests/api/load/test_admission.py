from __future__ import annotations

import threading

import anyio
import pytest
from fastapi.testclient import TestClient
from starlette.requests import ClientDisconnect
from starlette.types import Message, Receive, Scope, Send

from service.analysis.types import SwingAnalysis, SwingRecording
from service.api.load import places
from service.api.load.admission import Admission
from service.app import create_app
from service.observing.metrics import Metrics
from service.settings import Settings
from service.use_cases import analyse as analysis
from tests.api.clips import ANALYZE, clip


def test_more_requests_than_are_taken_in_are_told_to_come_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    entered, leave = threading.Event(), threading.Event()

    def wait(recording: SwingRecording, _model: object) -> SwingAnalysis:
        entered.set()
        assert leave.wait(10)
        raise RuntimeError("enough")

    monkeypatch.setattr(analysis, "analyse", wait)
    with TestClient(create_app(Settings(max_requests=1))) as client:
        slow = threading.Thread(target=lambda: client.post(ANALYZE, json=clip()))
        slow.start()
        try:
            assert entered.wait(10)
            answer = client.post(ANALYZE, json=clip())
            assert client.get("/healthz").status_code == 200
            assert client.get("/v1/faults").status_code == 200
        finally:
            leave.set()
            slow.join()
        assert (answer.status_code, answer.json()["type"]) == (503, "/problems/too-busy")
        assert answer.headers["retry-after"] == "1"
        assert answer.headers["x-request-id"]
        monkeypatch.undo()
        assert client.post(ANALYZE, json=clip()).status_code == 200


def _scope(length: int) -> Scope:
    return {
        "type": "http",
        "method": "POST",
        "path": "/records",
        "query_string": b"",
        "headers": [(b"content-length", str(length).encode())],
        "app": create_app(Settings()),
    }


async def _taken_in(request: Scope, receive: Receive, send: Send) -> None:
    """Read the whole body, and answer."""
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise ClientDisconnect
        if not message.get("more_body", False):
            break
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b""})


@pytest.mark.parametrize(("slow", "statuses"), [(0.0, [503, 200, 200]), (60.0, [200, 503, 200])])
def test_a_body_that_drips_makes_way_in_a_full_lane_and_one_that_has_just_begun_does_not(
    monkeypatch: pytest.MonkeyPatch, slow: float, statuses: list[int]
) -> None:
    monkeypatch.setattr(places, "IN_PEACE", slow)
    admission = Admission(_taken_in, "/own", 1, Metrics(None))
    answered: dict[int, int] = {}

    async def ask(number: int, *parts: bytes, then: anyio.Event | None = None) -> None:
        coming = [{"type": "http.request", "body": part, "more_body": True} for part in parts]

        async def receive() -> Message:
            if coming:
                return coming.pop(0)
            if then is not None:
                await then.wait()
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Message) -> None:
            if message["type"] == "http.response.start":
                answered[number] = message["status"]

        await admission(_scope(9), receive, send)

    async def all_three() -> None:
        more = anyio.Event()
        async with anyio.create_task_group() as group:
            group.start_soon(lambda: ask(0, b"x", then=more))
            await anyio.sleep(0.05)
            await ask(1, b"x")
            if slow:
                more.set()
            else:
                await anyio.sleep(0.05)
            await anyio.sleep(0.05)
            await ask(2, b"x")
            more.set()

    anyio.run(all_three)
    assert [answered[number] for number in range(3)] == statuses


def test_work_that_waits_for_no_body_never_makes_way(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(places, "IN_PEACE", 0.0)

    async def nothing(*_: object) -> Message:
        return {"type": "http.disconnect"}

    place = places.Place(_scope(0), nothing, nothing)
    assert not place.give_up()
    assert not places.Place(_scope(9), nothing, nothing).give_up(), "nobody reads its body yet"
