"""Ordinary manners: a welcome, names to search by, and nothing sent twice for nothing."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from tests.records.kept import still_body

JSON = {"Content-Type": "application/json"}


def test_the_address_says_what_is_there(client: TestClient) -> None:
    welcome = client.get("/").json()
    paths = client.get("/openapi.json").json()["paths"]
    for name in ("analyse", "examples", "faults", "health"):
        assert welcome[name] in paths
    for name in ("documentation", "contract"):
        assert client.get(welcome[name]).status_code == 200


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("ada", ["Ada Fairway", "Adam Österberg"]),
        ("ÖSTER", ["Adam Österberg"]),
        ("fairway", ["Ada Fairway"]),
        ("a_a", []),
        ("%", ["100 % Bo"]),
        ("nobody", []),
    ],
)
def test_players_are_found_by_part_of_their_name(
    keeper: TestClient, name: str, found: list[str]
) -> None:
    for each in ("Ada Fairway", "100 % Bo", "Adam Österberg"):
        assert keeper.post("/v1/players", json={"name": each}).status_code == 201
    items = keeper.get("/v1/players", params={"name": name}).json()["items"]
    assert [item["name"] for item in items] == found


def test_pages_of_a_search_go_on_with_the_search(keeper: TestClient) -> None:
    for each in ("Ada 1", "Bo", "Ada 2"):
        keeper.post("/v1/players", json={"name": each})
    first = keeper.get("/v1/players", params={"name": "ada", "limit": 1}).json()
    more = {"name": "ada", "cursor": first["next_cursor"]}
    assert [i["name"] for i in keeper.get("/v1/players", params=more).json()["items"]] == ["Ada 2"]
    other = {"name": "bo", "cursor": first["next_cursor"]}
    assert keeper.get("/v1/players", params=other).status_code == 422


def test_an_empty_name_is_no_search(keeper: TestClient) -> None:
    assert keeper.get("/v1/players", params={"name": " "}).status_code == 422


def test_what_the_caller_has_already_is_not_sent_again(keeper: TestClient) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"})
    lesson = keeper.post(f"{player.headers['location']}/lessons", json={"date": "2025-05-17"})
    swings = f"{lesson.headers['location']}/swings"
    swing = keeper.post(swings, content=still_body(), headers=JSON).headers["location"]
    for path in (
        player.headers["location"],
        lesson.headers["location"],
        swing,
        f"{swing}/analysis",
    ):
        etag = keeper.get(path).headers["etag"]
        for known in (etag, f'W/{etag}, "77"', "*"):
            answer = keeper.get(path, headers={"If-None-Match": known})
            assert (answer.status_code, answer.content) == (304, b"")
            assert answer.headers["etag"] == etag
            assert "content-type" not in answer.headers
        assert keeper.get(path, headers={"If-None-Match": '"77"'}).status_code == 200
    keeper.post(f"{swing}/reanalyse")
    assert keeper.get(swing, headers={"If-None-Match": '"1"'}).status_code == 200


def test_what_is_not_there_is_told_whatever_the_caller_has(keeper: TestClient) -> None:
    nobody = "/v1/players/01890000-0000-7000-8000-000000000000"
    assert keeper.get(nobody, headers={"If-None-Match": "*"}).status_code == 404
    assert keeper.get("/v1/faults", headers={"If-None-Match": "*"}).status_code == 200
