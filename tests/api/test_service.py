from __future__ import annotations

import html
import json
import logging
import threading

import pytest
from fastapi.testclient import TestClient

from service.analysis.faults import CATALOGUE
from service.analysis.pose.layouts import LAYOUTS
from service.analysis.types import SwingAnalysis, SwingRecording
from service.api.problems.kinds import PROBLEMS
from service.demo import clip_body
from service.use_cases import analyse as analysis
from tests.api.clips import ANALYZE, clip


def _fail(recording: SwingRecording, _model: object = None) -> SwingAnalysis:
    raise RuntimeError("secret detail")


def test_an_unforeseen_error_is_a_problem_that_tells_nothing_of_itself(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(analysis, "analyse", _fail)
    answer = client.post(ANALYZE, json=clip(), headers={"X-Request-ID": "swing-7"})
    assert (answer.status_code, answer.json()["type"]) == (500, "/problems/internal-error")
    assert "secret" not in answer.text
    assert answer.headers["x-request-id"] == "swing-7"
    assert "secret detail" in caplog.text


def test_health_is_answered_while_a_swing_is_being_analysed(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    entered, leave = threading.Event(), threading.Event()

    def wait(recording: SwingRecording, _model: object) -> SwingAnalysis:
        entered.set()
        assert leave.wait(10)
        return _fail(recording, _model)

    monkeypatch.setattr(analysis, "analyse", wait)
    slow = threading.Thread(target=lambda: client.post(ANALYZE, json=clip()))
    slow.start()
    try:
        assert entered.wait(10)
        assert client.get("/healthz").json() == {"status": "ok"}
    finally:
        leave.set()
        slow.join()


@pytest.mark.parametrize("path", ["/nowhere", "/v1/faults/no_such_fault", "/problems/none"])
def test_what_is_not_there_is_a_problem(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.headers["content-type"] == "application/problem+json"
    assert (answer.status_code, answer.json()["instance"]) == (404, path)


def test_a_wrong_method_is_a_problem_that_names_the_right_one(client: TestClient) -> None:
    answer = client.get(ANALYZE)
    assert (answer.status_code, answer.json()["type"]) == (405, "/problems/method-not-allowed")
    assert answer.headers["allow"] == "POST"


def test_every_problem_has_a_page(client: TestClient) -> None:
    for kind in PROBLEMS.values():
        page = client.get(kind.type)
        assert page.headers["content-type"].startswith("text/html")
        assert kind.title in html.unescape(page.text)


def test_the_catalogue_lists_every_fault_and_tells_each_alone(client: TestClient) -> None:
    faults = client.get("/v1/faults").json()["faults"]
    assert [fault["name"] for fault in faults] == list(CATALOGUE)
    for fault in faults:
        assert client.get(f"/v1/faults/{fault['name']}").json() == fault
        assert set(fault["criteria"]) == set(fault["needs"]) == set(fault["views"])


def test_what_an_app_shows_of_a_swing_is_said_in_its_language(client: TestClient) -> None:
    swing, headers = clip_body("face_on"), {"Content-Type": "application/json"}
    english, german = (
        client.post(f"{ANALYZE}{query}", content=swing, headers=headers).json()
        for query in ("", "?lang=de")
    )
    assert english["positions"][3]["title"] == "the top"
    assert german["positions"][3]["title"] == "höchster Punkt"
    assert german["positions"][3]["name"] == english["positions"][3]["name"] == "P4"
    there, here = (
        {e["reference"] for f in answer["findings"] for e in f["evidence"]}
        for answer in (english, german)
    )
    assert "common practice" in there
    assert "gängige Praxis" in here
    assert not any("common practice" in reference for reference in here)


def test_the_catalogue_is_told_in_german_under_the_same_names(client: TestClient) -> None:
    german = client.get("/v1/faults", params={"lang": "de"})
    assert german.headers["content-language"] == "de"
    for fault in german.json()["faults"]:
        english = CATALOGUE[fault["name"]]
        assert fault["title"] != english.title
        assert fault["checkpoint"] != english.checkpoint
        assert not set(fault["causes"]) & set(english.causes)
        assert not set(fault["cautions"]) & set(english.cautions)


def test_the_layouts_come_with_points_and_aliases(client: TestClient) -> None:
    answer = client.get("/v1/layouts").json()
    assert [layout["name"] for layout in answer["layouts"]] == list(LAYOUTS)
    assert answer["aliases"]["l_wrist"] == "left_wrist"
    assert "clubhead" in answer["points"]


@pytest.mark.parametrize("sent", ["", "has space", "x" * 65, "new\tline"])
def test_a_request_id_that_is_not_sane_is_replaced(client: TestClient, sent: str) -> None:
    answered = client.get("/healthz", headers={"X-Request-ID": sent}).headers["x-request-id"]
    assert answered != sent
    assert len(answered) == 32


def test_each_request_is_logged_once_with_its_status(
    client: TestClient, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO, "service.request"):
        client.get("/nowhere", headers={"X-Request-ID": "a1"})
    (record,) = [r for r in caplog.records if r.name == "service.request"]
    fields = vars(record)["fields"]
    assert fields.pop("milliseconds") >= 0
    assert fields == {"request_id": "a1", "method": "GET", "path": "/nowhere", "status": 404}


def test_the_answer_has_one_time_and_one_coordinate_a_frame(client: TestClient) -> None:
    answer = client.post(ANALYZE, json=clip(client_reference="swing 3")).json()
    assert answer["swing_found"] is False
    assert answer["reason"]["code"]
    assert answer["reason"]["text"]
    assert answer["client_reference"] == "swing 3"
    assert answer["position_coordinate"] == [None] * 24
    assert answer["times_s"][:3] == [0.0, 0.0167, 0.0333]
    assert "NaN" not in json.dumps(answer)
