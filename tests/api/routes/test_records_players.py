from __future__ import annotations

import io
import json
import zipfile

import pytest
from fastapi.testclient import TestClient

from service.api.health import readiness
from tests.records.kept import still_body, swing_body

JSON = {"Content-Type": "application/json"}
NOBODY = "01890000-0000-7000-8000-000000000000"


def _player(client: TestClient, name: str = "Ada Fairway", **fields: object) -> dict[str, str]:
    answer = client.post("/v1/players", json={"name": name, **fields})
    assert answer.status_code == 201, answer.text
    created: dict[str, str] = answer.json()
    return created


def test_a_player_is_found_where_location_says(keeper: TestClient) -> None:
    answer = keeper.post("/v1/players", json={"name": " Ada ", "handedness": "left", "note": "x"})
    assert answer.status_code == 201
    found = keeper.get(answer.headers["location"])
    assert found.json() == answer.json()
    assert found.headers["etag"] == answer.headers["etag"] == '"1"'
    assert (found.json()["name"], found.json()["handedness"]) == ("Ada", "left")
    assert found.json()["created"].endswith("Z")


def test_a_change_touches_only_what_is_sent_and_null_clears(keeper: TestClient) -> None:
    player = _player(keeper, note="old", handedness="right")
    path = f"/v1/players/{player['id']}"
    changed = keeper.patch(path, json={"note": None}, headers={"If-Match": '"1"'})
    assert changed.status_code == 200
    assert changed.json() == {**player, "note": None, "version": 2}
    assert changed.headers["etag"] == '"2"'
    assert keeper.get(path).json() == changed.json()


def test_a_change_that_changes_nothing_leaves_the_version(keeper: TestClient) -> None:
    consent = {"given_on": "2025-05-01", "by": "player"}
    player = _player(keeper, note="old", birth_year=1980, consent=consent, height_cm=180)
    path, fine = f"/v1/players/{player['id']}", {"If-Match": '"1"'}
    for same in ({}, {"note": "old", "height_cm": 180}, {"consent": consent}):
        answer = keeper.patch(path, json=same, headers=fine)
        assert (answer.status_code, answer.headers["etag"]) == (200, '"1"'), same
        assert answer.json() == player
    other = keeper.patch(path, json={"note": "new", "height_cm": 180}, headers=fine)
    assert other.headers["etag"] == '"2"'
    stale = keeper.patch(path, json={"note": "new"}, headers=fine)
    assert stale.status_code == 412


@pytest.mark.parametrize("height", [79, 251, "180", True, 1e999])
def test_a_height_that_nobody_has_is_refused(keeper: TestClient, height: object) -> None:
    body = json.dumps({"name": "Ada", "height_cm": height})
    answer = keeper.post("/v1/players", content=body, headers=JSON)
    assert answer.status_code in {400, 422}, answer.text
    assert "height_cm" in answer.text or answer.status_code == 400
    assert _player(keeper, height_cm=80)["height_cm"] == 80


def test_a_change_without_if_match_is_refused(keeper: TestClient) -> None:
    path = f"/v1/players/{_player(keeper)['id']}"
    answer = keeper.patch(path, json={"name": "Bea"})
    assert (answer.status_code, answer.json()["type"]) == (428, "/problems/precondition-required")
    assert keeper.get(path).json()["version"] == 1


def test_an_etag_that_has_lost_its_quotes_is_told_as_that(keeper: TestClient) -> None:
    path = f"/v1/players/{_player(keeper)['id']}"
    answer = keeper.patch(path, json={"name": "Bea"}, headers={"If-Match": "1"})
    assert (answer.status_code, answer.json()["title"]) == (422, "A parameter is wrong")
    (wrong,) = answer.json()["parameters"]
    assert (wrong["parameter"], wrong["fix"]) == ("If-Match", 'Send it with them, as in "1".')
    assert keeper.get(path).json()["version"] == 1


def test_a_weak_etag_is_told_as_that(keeper: TestClient) -> None:
    path = f"/v1/players/{_player(keeper)['id']}"
    answer = keeper.patch(path, json={"name": "Bea"}, headers={"If-Match": 'W/"1"'})
    assert answer.status_code == 422
    (wrong,) = answer.json()["parameters"]
    assert (wrong["parameter"], "without W/" in wrong["fix"]) == ("If-Match", True)
    assert keeper.get(path).json()["version"] == 1


def test_a_year_of_birth_is_a_number(keeper: TestClient) -> None:
    assert _player(keeper, birth_year=1990.0)["birth_year"] == 1990
    refused = keeper.post("/v1/players", json={"name": "Ada", "birth_year": "1990"})
    assert refused.status_code == 422
    (error,) = refused.json()["errors"]
    assert error["pointer"] == "/birth_year"


@pytest.mark.parametrize("stale", ['"2"', '"1x"', "", '"99999999999999999999"'])
def test_a_change_for_another_version_conflicts_and_changes_nothing(
    keeper: TestClient, stale: str
) -> None:
    player = _player(keeper)
    path = f"/v1/players/{player['id']}"
    for method, body in (("PATCH", {"name": "Bea"}), ("DELETE", None)):
        answer = keeper.request(method, path, json=body, headers={"If-Match": stale})
        assert (answer.status_code, answer.json()["type"]) == (412, "/problems/stale-version")
        assert "version 1" in answer.json()["detail"]
    assert keeper.get(path).json() == player


@pytest.mark.parametrize("fine", ["*", '"1"', '"7", "1"'])
def test_a_change_for_the_present_version_is_made(keeper: TestClient, fine: str) -> None:
    path = f"/v1/players/{_player(keeper)['id']}"
    answer = keeper.patch(path, json={"name": "Bea"}, headers={"If-Match": fine})
    assert (answer.status_code, answer.json()["name"]) == (200, "Bea")


@pytest.mark.parametrize(
    ("fields", "pointer"),
    [
        ({}, "/name"),
        ({"name": ""}, "/name"),
        ({"name": "  "}, "/name"),
        ({"name": "x" * 201}, "/name"),
        ({"name": "a\0b"}, "/name"),
        ({"name": 7}, "/name"),
        ({"name": "Ada", "handedness": "both"}, "/handedness"),
        ({"name": "Ada", "note": "x" * 20_001}, "/note"),
        ({"name": "Ada", "age": 40}, "/age"),
    ],
)
def test_a_player_that_breaks_the_contract_is_refused_with_a_pointer(
    keeper: TestClient, fields: dict[str, object], pointer: str
) -> None:
    answer = keeper.post("/v1/players", json=fields)
    assert (answer.status_code, answer.json()["type"]) == (422, "/problems/invalid-request")
    (error,) = answer.json()["errors"]
    assert error["pointer"] == pointer
    assert error["problem"]
    assert error["fix"]


def test_a_name_can_not_be_cleared(keeper: TestClient) -> None:
    path = f"/v1/players/{_player(keeper)['id']}"
    answer = keeper.patch(path, json={"name": None}, headers={"If-Match": "*"})
    assert answer.json()["errors"][0]["pointer"] == "/name"


@pytest.mark.parametrize("player_id", [NOBODY, "nobody", "%00"])
def test_an_unknown_player_is_not_found(keeper: TestClient, player_id: str) -> None:
    path, any_version = f"/v1/players/{player_id}", {"If-Match": "*"}
    answers = [
        *(keeper.get(f"{path}{below}") for below in ("", "/export", "/lessons")),
        keeper.patch(path, json={"name": "Ada"}, headers=any_version),
        keeper.delete(path),
        keeper.post(f"{path}/lessons", json={"date": "2025-05-17"}),
    ]
    assert {answer.status_code for answer in answers} == {404}
    assert {answer.json()["type"] for answer in answers} == {"/problems/not-found"}


def test_pages_give_every_player_once_though_others_come_in_meanwhile(keeper: TestClient) -> None:
    names = [_player(keeper, f"player {number}")["name"] for number in range(5)]
    seen: list[str] = []
    query: dict[str, str] = {"limit": "2"}
    while True:
        page = keeper.get("/v1/players", params=query).json()
        seen += [item["name"] for item in page["items"]]
        if len(seen) == 2:
            _player(keeper, "late")
        if page["next_cursor"] is None:
            break
        query["cursor"] = page["next_cursor"]
    assert seen == [*names, "late"]


@pytest.mark.parametrize(
    "query",
    ["limit=0", "limit=101", "limit=x", "cursor=x", "cursor=%00", "cursor=" + "x" * 300, "page=2"],
)
def test_a_wrong_parameter_is_named(keeper: TestClient, query: str) -> None:
    answer = keeper.get(f"/v1/players?{query}")
    assert (answer.status_code, answer.json()["type"]) == (422, "/problems/invalid-parameter")
    (wrong,) = answer.json()["parameters"]
    assert wrong["parameter"] == query.partition("=")[0]
    assert wrong["problem"]


def test_a_cursor_of_another_list_is_refused(keeper: TestClient) -> None:
    one, other = _player(keeper), _player(keeper)
    for _ in range(2):
        keeper.post(f"/v1/players/{one['id']}/lessons", json={"date": "2025-05-17"})
    page = keeper.get(f"/v1/players/{one['id']}/lessons?limit=1").json()
    query = {"cursor": page["next_cursor"]}
    assert keeper.get(f"/v1/players/{one['id']}/lessons", params=query).status_code == 200
    for path in (f"/v1/players/{other['id']}/lessons", "/v1/players", "/v1/swings"):
        assert keeper.get(path, params=query).status_code == 422


def test_players_lessons_and_swings_begin_at_their_first_version(keeper: TestClient) -> None:
    made = keeper.post("/v1/players", json={"name": "Ada"})
    lesson = keeper.post(f"{made.headers['location']}/lessons", json={"date": "2025-05-17"})
    swing = keeper.post(f"{lesson.headers['location']}/swings", content=still_body(), headers=JSON)
    for each in (made, lesson, swing):
        assert keeper.get(each.headers["location"]).headers["etag"] == '"1"'


def test_a_deleted_player_is_gone_with_lessons_and_swings(keeper: TestClient) -> None:
    player = _player(keeper)
    lesson = keeper.post(f"/v1/players/{player['id']}/lessons", json={"date": "2025-05-17"}).json()
    made = keeper.post(f"/v1/lessons/{lesson['id']}/swings", content=swing_body(), headers=JSON)
    paths = (f"/v1/players/{player['id']}", f"/v1/lessons/{lesson['id']}", made.headers["location"])
    assert [keeper.get(path).status_code for path in paths] == [200] * 3
    answer = keeper.delete(paths[0])
    assert (answer.status_code, answer.content) == (204, b"")
    assert [keeper.get(path).status_code for path in paths] == [404] * 3
    assert keeper.get("/v1/swings").json()["items"] == []


def test_the_export_holds_everything_and_its_requests_can_be_sent_again(
    keeper: TestClient,
) -> None:
    player, other = _player(keeper, note="likes wedges"), _player(keeper, "other")
    lesson = keeper.post(
        f"/v1/players/{player['id']}/lessons",
        json={"date": "2025-05-17", "coach_note": "Well done, Žofie."},
    ).json()
    body = swing_body(2, reference="swing 1")
    for whose in (player, other):
        theirs = keeper.post(f"/v1/players/{whose['id']}/lessons", json={"date": "2025-05-18"})
        target = lesson if whose is player else theirs.json()
        made = keeper.post(f"/v1/lessons/{target['id']}/swings", content=body, headers=JSON)
        if whose is player:
            swing = made.json()["swing"]
    keeper.post(f"/v1/swings/{swing['id']}/reanalyse")

    answer = keeper.get(f"/v1/players/{player['id']}/export")
    assert answer.headers["content-type"] == "application/zip"
    assert player["id"] in answer.headers["content-disposition"]
    archive = zipfile.ZipFile(io.BytesIO(answer.content))
    assert archive.testzip() is None
    files = {name: archive.read(name) for name in archive.namelist()}
    folder = f"lessons/{lesson['id']}/swings/{swing['id']}"
    assert json.loads(files["player.json"])["note"] == "likes wedges"
    assert json.loads(files[f"lessons/{lesson['id']}/lesson.json"])["coach_note"].endswith("Žofie.")
    assert json.loads(files[f"{folder}/swing.json"])["client_reference"] == "swing 1"
    assert files[f"{folder}/request.json"] == body
    numbers = [json.loads(files[f"{folder}/analysis-{n}.json"])["number"] for n in (1, 2)]
    assert numbers == [1, 2]
    assert len([name for name in files if name.endswith("request.json")]) == 1
    assert other["id"] not in "".join(files)
    sent = keeper.post(
        "/v1/swings/analyze", content=files[f"{folder}/request.json"], headers=JSON
    ).json()
    kept = keeper.get(f"/v1/swings/{swing['id']}/analysis").json()
    assert {name: kept[name] for name in sent} == sent


def test_without_a_database_swings_are_analysed_and_records_are_unavailable(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(readiness, "LONGEST", 30.0)  # for a busy machine
    assert client.get("/readyz").status_code == 200
    for path in ("/v1/players", "/v1/swings", f"/v1/lessons/{NOBODY}"):
        answer = client.get(path)
        assert (answer.status_code, answer.json()["type"]) == (503, "/problems/records-unavailable")
