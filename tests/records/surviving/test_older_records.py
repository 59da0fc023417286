"""A database kept by the first version: everything in it can still be read."""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import select

from service.app import create_app
from service.records.tables import AnalysisRow, FindingRow
from service.settings import Settings

KEPT = Path(__file__).parents[2] / "data" / "records_0001.db.gz"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    file = tmp_path_factory.mktemp("older") / "records.db"
    file.write_bytes(gzip.decompress(KEPT.read_bytes()))
    with TestClient(create_app(Settings(database_url=f"sqlite:///{file}"))) as client:
        yield client


def test_grades_found_before_they_were_kept_apart_are_filled_in(client: TestClient) -> None:
    with client.app.state.records.reading() as session:
        rows = session.execute(select(FindingRow.analysis_id, FindingRow.fault, FindingRow.grade))
        kept = {(row.analysis_id, row.fault): row.grade for row in rows}
        contents = session.execute(select(AnalysisRow.id, AnalysisRow.content)).all()
    found = {row.id: json.loads(row.content)["findings"] for row in contents}
    told = {(analysis, f["fault"]): f["grade"] for analysis, fs in found.items() for f in fs}
    assert kept == told
    assert {*told.values()} > {None}


def _get(client: TestClient, path: str) -> dict[str, object]:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return answer.json()


@pytest.fixture(scope="module")
def player(client: TestClient) -> str:
    (player,) = _get(client, "/v1/players")["items"]
    assert player["name"] == "Ivo Invented"
    return f"/v1/players/{player['id']}"


@pytest.fixture(scope="module")
def swings(client: TestClient) -> list[dict[str, object]]:
    found = _get(client, "/v1/swings")["items"]
    assert len(found) == 5
    return found


def test_lessons_and_swings_are_listed_and_searched(
    client: TestClient, player: str, swings: list[dict[str, object]]
) -> None:
    assert len(_get(client, f"{player}/lessons")["items"]) == 2
    assert [s["swing_found"] for s in swings] == [True, True, True, True, False]
    status = {"fault": "long_backswing", "status": "present"}
    searched = client.get("/v1/swings", params=status).json()["items"]
    told = [_get(client, f"/v1/swings/{s['id']}/analysis") for s in swings]
    present = [
        any(f["fault"] == "long_backswing" and f["status"] == "present" for f in a["findings"])
        for a in told
    ]
    assert [s["id"] in {found["id"] for found in searched} for s in swings] == present


def test_an_analysis_tells_intent_and_times_that_it_did_not_carry(
    client: TestClient, swings: list[dict[str, object]]
) -> None:
    intents = []
    for swing in swings:
        told = _get(client, f"/v1/swings/{swing['id']}/analyses/1")
        intents.append(told["intent"])
        assert told["club"] == swing["club"]
        assert len(told["times_s"]) == len(told["position_coordinate"]) == swing["n_frames"]
        assert told["times_s"][0] == 0.0
        assert sorted(set(told["times_s"])) == told["times_s"]
    assert intents == ["full_speed", "full_speed", "rehearsal", "full_speed", "full_speed"]


def test_progress_leaves_the_rehearsal_out(client: TestClient, player: str) -> None:
    faults = _get(client, f"{player}/progress")["faults"]
    assert faults
    assert max(p["settled"]["assessed"] for f in faults for p in f["points"]) == 2
    assert {f["points"][1]["settled"]["assessed"] for f in faults} <= {0, 1}


def test_the_recap_is_told_and_drawn(client: TestClient, swings: list[dict[str, object]]) -> None:
    lesson = f"/v1/lessons/{swings[-1]['lesson_id']}"
    told = _get(client, f"{lesson}/recap")
    assert [s["role"] for s in told["swings"]] == ["rehearsal", "after", "other"]
    assert [s["intent"] for s in told["swings"]] == ["rehearsal", "full_speed", "full_speed"]
    page = client.get(f"{lesson}/recap.html")
    assert page.status_code == 200
    assert "<svg" in page.text


def test_positions_are_drawn_and_swings_compared(
    client: TestClient, swings: list[dict[str, object]]
) -> None:
    first, _, _, last, _ = (swing["id"] for swing in swings)
    assert "<svg" in client.get(f"/v1/swings/{first}/frames/4.svg").text
    answer = client.post("/v1/comparisons", json={"before": [first], "after": [last]})
    assert answer.status_code == 200, answer.text
    aligned = answer.json()["alignment"]["swings"]
    assert aligned[0]["times_s"] == aligned[1]["times_s"], "it is one request, sent twice"


def test_a_swing_analysed_again_has_the_new_analysis_beside_the_old(
    client: TestClient, swings: list[dict[str, object]]
) -> None:
    path = f"/v1/swings/{swings[0]['id']}"
    old = _get(client, f"{path}/analyses/1")
    again = client.post(f"{path}/reanalyse")
    assert again.status_code == 201, again.text
    new = again.json()["analysis"]
    assert again.json()["swing"]["analyses"] == 2
    for member in ("times_s", "intent", "club", "client_reference"):
        assert new[member] == old[member]
    assert _get(client, f"{path}/analyses/1") == old
