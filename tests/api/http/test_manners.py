"""Ordinary manners: a welcome, names to search by, and nothing sent twice for nothing."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from tests.records.kept import still_body, swing_body

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


@pytest.fixture
def swing(keeper: TestClient) -> str:
    """Path of a kept swing."""
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    lesson = keeper.post(f"{player}/lessons", json={"date": "2025-05-17"}).headers["location"]
    kept = keeper.post(f"{lesson}/swings", content=swing_body(1), headers=JSON)
    return str(kept.headers["location"])


def test_a_swings_role_is_changed_without_another_analysis(keeper: TestClient, swing: str) -> None:
    before = keeper.get(swing)
    any_version = {"If-Match": before.headers["etag"]}
    changed = keeper.patch(swing, json={"role": "reference"}, headers=any_version)
    assert changed.status_code == 200
    assert changed.json() == before.json() | {"role": "reference", "version": 2}
    assert keeper.get(swing).json() == changed.json()
    assert keeper.get(swing).headers["etag"] == changed.headers["etag"] == '"2"'


def test_another_intent_or_club_has_the_swing_analysed_again(
    keeper: TestClient, swing: str
) -> None:
    first = keeper.get(f"{swing}/analysis").json()
    changes = {"intent": "rehearsal", "club": "wedge"}
    changed = keeper.patch(swing, json=changes, headers={"If-Match": '"1"'}).json()
    assert {name: changed[name] for name in changes} == changes
    assert changed["analyses"] == 2
    newest = keeper.get(f"{swing}/analysis").json()
    assert (newest["intent"], newest["club"]) == ("rehearsal", "wedge")
    hurried = next(f for f in newest["findings"] if f["fault"] == "hurried_transition")
    assert hurried["reason"]["code"] == "rehearsal"
    assert keeper.get(f"{swing}/analyses/1").json() == first
    assert keeper.post(f"{swing}/reanalyse").json()["analysis"]["club"] == "wedge"


@pytest.mark.parametrize(
    ("changes", "headers", "status"),
    [
        ({"role": "after"}, {}, 428),
        ({"role": "after"}, {"If-Match": '"7"'}, 412),
        ({"intent": "rehearsal"}, {"If-Match": '"7"'}, 412),
        ({"role": None}, {"If-Match": "*"}, 422),
        ({"club": "mashie"}, {"If-Match": "*"}, 422),
        ({"view": "face_on"}, {"If-Match": "*"}, 422),
        ({"club": None}, {"If-Match": "*"}, 200),
        ({}, {"If-Match": "*"}, 200),
    ],
)
def test_a_change_that_can_not_be_made_changes_nothing(
    keeper: TestClient, swing: str, changes: dict[str, object], headers: dict[str, str], status: int
) -> None:
    before = keeper.get(swing).json()
    assert keeper.patch(swing, json=changes, headers=headers).status_code == status
    after = keeper.get(swing).json()
    assert after | {"version": 1} == before
