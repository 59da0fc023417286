from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.demo import clip_body
from service.settings import Settings
from tests.training.small import classifier, folder

ANALYZE = "/v1/swings/analyze"
JSON = {"Content-Type": "application/json"}


def _client(monkeypatch: pytest.MonkeyPatch, models: Path) -> TestClient:
    monkeypatch.setenv("SWING_MODEL_DIR", str(models))
    return TestClient(create_app(Settings()))


def _swing(client: TestClient) -> dict[str, Any]:
    """The answer to the demonstration's face-on swing."""
    answer = client.post(ANALYZE, content=clip_body("face_on"), headers=JSON)
    assert answer.status_code == 200
    told: dict[str, Any] = answer.json()
    assert told["swing_found"]
    return told


def test_without_a_model_rules_judge_alone_and_the_service_says_so(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    client = _client(monkeypatch, tmp_path)
    told = client.get("/v1/model").json()
    assert (told["version"], told["trained"], told["data"]) == ("rules", None, None)
    answer = _swing(client)
    assert answer["model"]["version"] == "rules"
    assert {f["model_score"] for f in answer["findings"]} == {None}
    assert {f["status"] for f in answer["findings"]} >= {"present", "absent"}


def test_every_answer_names_the_model_and_tells_what_it_says(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    client = _client(monkeypatch, folder())
    identity = classifier().identity
    told = client.get("/v1/model").json()
    assert told["version"] == identity.version
    assert (told["trained"], told["data"]) == ("2026-01-02", "small")
    answer = _swing(client)
    assert answer["model"]["version"] == identity.version
    scored = {f["fault"] for f in answer["findings"] if f["model_score"] is not None}
    assert scored == {"upper_body_drift"}  # the one small model of this view
