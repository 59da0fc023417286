from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.analysis.types import View
from service.app import create_app
from service.demo import clip_body
from service.settings import Settings
from tests.training.small import classifier, folder, learned

ANALYZE = "/v1/swings/analyze"
JSON = {"Content-Type": "application/json"}


def _client(models: Path) -> TestClient:
    return TestClient(create_app(Settings(model_dir=models)))


def _swing(client: TestClient) -> dict[str, Any]:
    """The answer to the demonstration's face-on swing."""
    answer = client.post(ANALYZE, content=clip_body("face_on"), headers=JSON)
    assert answer.status_code == 200
    told: dict[str, Any] = answer.json()
    assert told["swing_found"]
    return told


def _estimated(answer: dict[str, Any]) -> set[str]:
    return {m["name"] for m in answer["measures"] if m["as_measured"] is not None}


def test_without_a_model_rules_judge_what_was_measured_and_the_service_says_so(
    tmp_path: Path,
) -> None:
    client = _client(tmp_path)
    told = client.get("/v1/model").json()
    assert (told["version"], told["trained"], told["data"]) == ("rules", None, None)
    answer = _swing(client)
    assert answer["model"]["version"] == "rules"
    assert answer["familiarity"] is None
    assert _estimated(answer) == set()
    assert {f["status"] for f in answer["findings"]} >= {"present", "absent"}


def test_the_model_of_the_folder_in_the_settings_is_served_whatever_the_environment_says(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("SWING_MODEL_DIR", str(tmp_path))
    client = _client(folder())
    told = client.get("/v1/model").json()
    identity = classifier().identity
    assert told["version"] == identity.version
    assert (told["trained"], told["data"]) == ("2026-01-02", "small")
    answer = _swing(client)
    assert answer["model"]["version"] == identity.version
    assert answer["familiarity"]["inside"] is True
    assert _estimated(answer) == {
        each.measure for each in learned().estimators if each.view is View.FACE_ON
    }


def test_two_services_of_one_process_each_serve_their_own_model(tmp_path: Path) -> None:
    clients = [_client(tmp_path), _client(folder())]
    versions = [client.get("/v1/model").json()["version"] for client in clients]
    assert versions == ["rules", classifier().identity.version]
