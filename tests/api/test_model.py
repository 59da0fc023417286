from __future__ import annotations

from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from tests.api.clips import clip
from tests.training.small import classifier, folder

ANALYZE = "/v1/swings/analyze"


def _client(monkeypatch: pytest.MonkeyPatch, models: Path) -> TestClient:
    monkeypatch.setenv("SWING_MODEL_DIR", str(models))
    return TestClient(create_app(Settings()))


def test_without_a_model_rules_judge_alone_and_the_service_says_so(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    client = _client(monkeypatch, tmp_path)
    told = client.get("/v1/model").json()
    assert told.pop("covers") == []
    assert told == {"version": "rules", "trained": None, "data": None}
    answer = client.post(ANALYZE, json=clip()).json()
    assert answer["model"] == told
    assert {f["model_score"] for f in answer["findings"]} <= {None}


def test_every_answer_names_the_model_that_judged(monkeypatch: pytest.MonkeyPatch) -> None:
    client = _client(monkeypatch, folder())
    told = client.get("/v1/model").json()
    identity = classifier().identity
    covers = {(each["fault"], each["view"]) for each in told.pop("covers")}
    assert covers == set(classifier().experts)
    assert told == {"version": identity.version, "trained": "2026-01-02", "data": "small"}
    assert client.post(ANALYZE, json=clip()).json()["model"] == told
