from __future__ import annotations

import threading

import pytest
from fastapi.testclient import TestClient

from service.analysis.types import SwingAnalysis, SwingRecording
from service.app import create_app
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
