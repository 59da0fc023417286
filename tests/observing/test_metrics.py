from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient
from prometheus_client.parser import text_string_to_metric_families

from service.analysis.judging.classifier import Classifier
from service.analysis.judging.features import FEATURE_NAMES
from service.analysis.types import View
from service.api.names import REASONS
from service.app import create_app
from service.demo import clip_body
from service.observing.exposition import text
from service.observing.metrics import Metrics
from service.settings import Settings
from tests.api.clips import ANALYZE, clip

JSON = {"Content-Type": "application/json"}
PLAYER = "Nobody Invented"


@pytest.fixture
def counted(database_url: str) -> Iterator[TestClient]:
    settings = Settings(database_url=database_url, migrate_on_start=False, metrics=True)
    with TestClient(create_app(settings)) as client:
        yield client


def figures(text: str) -> dict[tuple[str, ...], float]:
    """Each sample by its name and its labels' values, in the order of the labels' names."""
    return {
        (sample.name, *sample.labels.values()): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


def test_without_the_setting_there_are_none(keeper: TestClient) -> None:
    assert keeper.get("/metrics").status_code == 404


def test_answers_analyses_faults_model_and_database_are_told(counted: TestClient) -> None:
    assert counted.post(ANALYZE, content=clip_body("face_on"), headers=JSON).status_code == 200
    assert counted.post(ANALYZE, json=clip()).status_code == 200
    assert counted.post(ANALYZE, content=b"{", headers=JSON).status_code == 400
    answer = counted.get("/metrics")
    assert answer.headers["content-type"].startswith("text/plain")
    told = all_passed(counted)
    assert told["swing_http_requests_total", "POST", ANALYZE, "200"] == 2
    assert told["swing_http_requests_total", "POST", ANALYZE, "400"] == 1
    assert told["swing_http_request_seconds_count", "POST", ANALYZE] == 3
    assert told["swing_analyses_total", "swing", "face_on"] == 1
    assert sum(v for k, v in told.items() if k[0] == "swing_analyses_total") == 2
    assert sum(v for k, v in told.items() if k[0] == "swing_findings_total") > 8
    reasons = {k[1] for k in told if k[0] == "swing_not_assessable_total"}
    assert reasons
    assert reasons <= set(REASONS)
    assert told["swing_requests_inside", "analyse"] == 0
    assert told["swing_check_passed", "database"] == 1
    assert {k[1] for k in told if k[0] == "swing_check_passed"} >= {"model", "analysis"}
    version = counted.get("/v1/model").json()["version"]
    assert any(k[0] == "swing_model_info" and version in k for k in told)


def test_no_id_path_or_name_of_anyone_is_told(counted: TestClient) -> None:
    player = counted.post("/v1/players", json={"name": PLAYER}).json()["id"]
    assert counted.get(f"/v1/players/{player}").status_code == 200
    counted.get("/v1/nothing/here")
    counted.request("STRANGE", "/v1/faults")
    text = counted.get("/metrics").text
    told = figures(text)
    assert player not in text
    assert PLAYER not in text
    assert "nothing" not in text
    assert "STRANGE" not in text
    assert told["swing_http_requests_total", "GET", "/v1/players/{player_id:uuid}", "200"] == 1
    assert told["swing_http_requests_total", "GET", "none", "404"] == 1


def all_passed(client: TestClient) -> dict[tuple[str, ...], float]:
    """The figures once every check has passed; on a busy machine one may take its time."""
    for _ in range(100):
        told = figures(client.get("/metrics").text)
        if all(value for key, value in told.items() if key[0] == "swing_check_passed"):
            return told
    raise AssertionError("not every check passes")


def test_the_swings_of_the_readiness_check_do_not_count(counted: TestClient) -> None:
    told = all_passed(counted)
    assert not any(k[0] == "swing_analyses_total" for k in told)


def test_a_database_that_is_away_is_told(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'records.db'}"
    settings = Settings(database_url=url, metrics=True)
    with TestClient(create_app(settings)) as client:
        for file in tmp_path.glob("records.db*"):
            file.unlink()
        assert figures(client.get("/metrics").text)["swing_check_passed", "database"] == 0


def test_drift_is_told_once_there_are_enough_swings() -> None:
    classifier = Classifier.load(Settings().model_dir)
    metrics = Metrics(classifier)
    known = classifier.ranges[View.FACE_ON]
    vector = np.zeros(len(FEATURE_NAMES), dtype=np.float32)
    vector[known.columns] = known.high + 10.0
    for _ in range(160):
        metrics.features(View.FACE_ON, vector)
    told = figures(text(metrics, ()).decode())
    assert told["swing_drift_psi", "clip", "face_on"] > 1.0


_TOGETHER = """
import os, sys
os.environ["PROMETHEUS_MULTIPROC_DIR"] = sys.argv[1]
from service.observing.exposition import text
from service.observing.metrics import Metrics
metrics = Metrics(None)
metrics.request("GET", "/v1/layouts", 200, 0.01)
metrics.inside("analyse", 1)
if os.fork() == 0:
    metrics.request("GET", "/v1/layouts", 200, 0.02)
    metrics.inside("analyse", 5)  # and is killed before any of them leaves
    os._exit(0)
os.wait()
print(text(metrics, ()).decode())
"""


def test_processes_that_share_a_port_count_together_and_the_dead_hold_nothing(
    tmp_path: Path,
) -> None:
    command = [sys.executable, "-c", _TOGETHER, str(tmp_path)]
    told = figures(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    assert told["swing_http_requests_total", "GET", "/v1/layouts", "200"] == 2
    assert told["swing_http_request_seconds_sum", "GET", "/v1/layouts"] == pytest.approx(0.03)
    assert told["swing_requests_inside", "analyse"] == 1
