from __future__ import annotations

from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from tests.records.kept import swing_body
from tests.training.small import classifier, folder

ANALYZE = "/v1/swings/analyze"
JSON = {"Content-Type": "application/json"}


def _client(models: Path) -> TestClient:
    return TestClient(create_app(Settings(model_dir=models)))


def test_without_a_model_rules_judge_alone_and_the_service_says_so(tmp_path: Path) -> None:
    client = _client(tmp_path)
    told = client.get("/v1/model").json()
    assert told.pop("covers") == []
    assert told == {"version": "rules", "trained": None, "data": None}
    answer = client.post(ANALYZE, content=swing_body(), headers=JSON).json()
    assert answer["model"] == told
    assert answer["swing_found"]
    assert {f["model_score"] for f in answer["findings"]} == {None}


def test_the_model_of_the_folder_in_the_settings_is_served_whatever_the_environment_says(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("SWING_MODEL_DIR", str(tmp_path))
    client = _client(folder())
    told = client.get("/v1/model").json()
    identity = classifier().identity
    covers = {(each["fault"], each["view"]) for each in told.pop("covers")}
    assert covers == set(classifier().experts)
    assert told == {"version": identity.version, "trained": "2026-01-02", "data": "small"}
    answer = client.post(ANALYZE, content=swing_body(), headers=JSON).json()
    assert answer["model"] == told
    assert any(f["model_score"] is not None for f in answer["findings"])


def test_two_services_of_one_process_each_serve_their_own_model(tmp_path: Path) -> None:
    clients = [_client(tmp_path), _client(folder())]
    versions = [client.get("/v1/model").json()["version"] for client in clients]
    assert versions == ["rules", classifier().identity.version]
