"""A method that a path does not take is answered with those that it takes."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from service.intake.parsing.json_reader import plain_words
from tests.contract.committed import committed_contract
from tests.records.kept import DAY

METHODS = {"get", "put", "post", "patch", "delete"}
AN_ID = "00000000-0000-7000-8000-000000000000"


def _paths() -> list[tuple[str, set[str]]]:
    paths = committed_contract()["paths"]
    return [(path, METHODS & set(taken)) for path, taken in paths.items()]


@pytest.mark.parametrize(("path", "taken"), _paths(), ids=lambda v: v if isinstance(v, str) else "")
def test_allow_names_every_method_of_the_path(
    client: TestClient, path: str, taken: set[str]
) -> None:
    filled = re.sub(r"\{(number|position)\}", "1", path)
    filled = filled.replace("1.svg", "1.0.svg")
    filled = re.sub(r"\{(name|slug)\}", "x", filled)
    filled = re.sub(r"\{\w+\}", AN_ID, filled)
    answer = client.request("TRACE", filled)
    assert answer.status_code == 405, filled
    allowed = {m.lower() for m in answer.headers["allow"].split(", ")}
    assert allowed == taken | ({"head"} if "get" in taken else set())
    assert answer.json()["detail"].startswith(f"It takes {answer.headers['allow']}.")


def test_who_asks_for_the_swings_below_a_lesson_is_told_where_they_are(client: TestClient) -> None:
    answer = client.get(f"/v1/lessons/{AN_ID}/swings")
    assert answer.status_code == 405
    assert answer.json()["detail"].endswith(f" GET /v1/swings?lesson_id={AN_ID} lists them.")


def test_a_head_is_that_of_the_get(keeper: TestClient) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    for path in (player, "/v1/players", "/v1/faults", "/healthz", "/docs", "/nowhere"):
        head, get = keeper.head(path), keeper.get(path)
        assert (head.status_code, head.content) == (get.status_code, b"")
        changing = {"x-request-id", "date"}
        assert dict(head.headers).keys() - changing == dict(get.headers).keys() - changing
        assert head.headers["content-length"] == get.headers["content-length"]
    etag = keeper.head(player).headers["etag"]
    assert keeper.head(player, headers={"If-None-Match": etag}).status_code == 304
    assert keeper.head("/v1/swings/analyze").status_code == 405


def test_the_head_of_results_does_not_wait_for_their_end(keeper: TestClient) -> None:
    headers = {"Content-Type": "application/x-ndjson"}
    batch = keeper.post("/v1/batches", content=b"{}", headers=headers).headers["location"]
    head = keeper.head(f"{batch}/results")  # nobody works through it
    assert (head.status_code, head.content) == (200, b"")


@pytest.mark.parametrize("day", ["1899-12-31", "2200-01-01", "0001-01-01", "2025-05-17T00:00"])
def test_days_beyond_the_bounds_of_the_contract_are_refused_in_plain_words(
    keeper: TestClient, day: str
) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada Fairway"}).json()["id"]
    refused = keeper.post(f"/v1/players/{player}/lessons", json={"date": day})
    filtered = keeper.get("/v1/swings", params={"first_day": day})
    assert (refused.status_code, filtered.status_code) == (422, 422)
    for said in (refused.json()["errors"][0], filtered.json()["parameters"][0]):
        assert said["problem"] == "should be a day from 1900 to 2199 as YYYY-MM-DD"
    kept = keeper.post(f"/v1/players/{player}/lessons", json={"date": str(DAY)})
    assert kept.status_code == 201


def test_no_word_of_the_language_it_is_written_in_stands_in_a_message(keeper: TestClient) -> None:
    early = keeper.post(
        f"/v1/lessons/{AN_ID}/swings",
        params={"recorded_at": "1899-01-01T00:00:00Z"},
        content=b"{}",
        headers={"Content-Type": "application/json"},
    )
    assert early.status_code == 422
    assert "datetime" not in early.text
    assert "should be a time from 1900 to 2199" in early.text
    assert plain_words("string_too_long", "String should have at most 3 characters", {}) == (
        "should have at most 3 characters"
    )
