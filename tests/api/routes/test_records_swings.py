from __future__ import annotations

import gzip
import json
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

import service
from service.analysis.types import Club, View
from service.app import create_app
from service.settings import Settings
from tests.records.kept import faulty_body, still_body, swing_body

JSON = {"Content-Type": "application/json"}
NOBODY = "01890000-0000-7000-8000-000000000000"


@pytest.fixture
def lesson(keeper: TestClient) -> str:
    """Path of a lesson."""
    return _lesson(keeper)


def _lesson(keeper: TestClient, day: str = "2025-05-17", **fields: str) -> str:
    player = keeper.post("/v1/players", json={"name": "Ada"}).json()
    answer = keeper.post(f"/v1/players/{player['id']}/lessons", json={"date": day, **fields})
    assert answer.status_code == 201, answer.text
    return str(answer.headers["location"])


def _keep(keeper: TestClient, lesson: str, body: bytes, **query: str) -> dict[str, object]:
    answer = keeper.post(f"{lesson}/swings", content=body, headers=JSON, params=query)
    assert answer.status_code == 201, answer.text
    swing: dict[str, object] = answer.json()["swing"]
    return swing


def _ids(keeper: TestClient, **query: object) -> list[object]:
    answer = keeper.get("/v1/swings", params=query)
    assert answer.status_code == 200, answer.text
    return [item["id"] for item in answer.json()["items"]]


def test_the_coachs_note_is_added_to_a_lesson(keeper: TestClient, lesson: str) -> None:
    tag = keeper.get(lesson).headers["etag"]
    changed = keeper.patch(lesson, json={"coach_note": "Slow down."}, headers={"If-Match": tag})
    assert (changed.status_code, changed.json()["coach_note"]) == (200, "Slow down.")
    again = keeper.patch(lesson, json={"coach_note": "Faster!"}, headers={"If-Match": tag})
    assert again.status_code == 412
    assert keeper.get(lesson).json() == changed.json()


def test_an_analysis_that_a_coach_speaks_of_is_no_longer_the_one_that_was_read(
    keeper: TestClient, lesson: str
) -> None:
    swing = f"/v1/swings/{_keep(keeper, lesson, swing_body())['id']}"
    review = f"{swing}/findings/chest_stall/review"
    known = {
        path: {"If-None-Match": keeper.get(path).headers["etag"]}
        for path in (f"{swing}/analysis", f"{swing}/analyses/1")
    }

    def statuses() -> set[int]:
        return {keeper.get(path, headers=tags).status_code for path, tags in known.items()}

    assert statuses() == {304}
    said = keeper.put(review, json={"verdict": "confirm", "reviewer": "Bo"})
    assert said.status_code == 201, said.text
    assert statuses() == {200}
    assert keeper.delete(review, params={"reviewer": "Bo"}).status_code == 204
    assert statuses() == {304}


def test_an_analysis_is_fetched_again_in_the_language_asked_for(
    keeper: TestClient, lesson: str
) -> None:
    path = f"/v1/swings/{_keep(keeper, lesson, swing_body())['id']}/analysis"
    english, german = keeper.get(path), keeper.get(f"{path}?lang=de")
    assert german.headers["content-language"] == "de"
    assert german.json()["findings"][0]["title"] == "Abheben der Arme am höchsten Punkt"
    known = {"If-None-Match": english.headers["etag"], "Accept-Language": "de"}
    assert keeper.get(path, headers=known).status_code == 200
    known = {"If-None-Match": german.headers["etag"]}
    assert keeper.get(f"{path}?lang=de", headers=known).status_code == 304


def test_a_swing_that_is_kept_is_told_in_the_language_asked_for(
    keeper: TestClient, lesson: str
) -> None:
    path, key = f"{lesson}/swings", {**JSON, "Idempotency-Key": "one"}
    german = keeper.post(f"{path}?lang=de", content=swing_body(), headers=key)
    assert german.headers["content-language"] == "de"
    told = german.json()["analysis"]["findings"][0]["title"]
    assert told == "Abheben der Arme am höchsten Punkt"
    again = f"/v1/swings/{german.json()['swing']['id']}/reanalyse"
    told = keeper.post(again, headers={"Accept-Language": "de"}).json()["analysis"]["findings"]
    assert told[0]["title"] == "Abheben der Arme am höchsten Punkt"
    accepted = {**key, "Accept-Language": "de", "Idempotency-Key": "two"}
    first = keeper.post(path, content=swing_body(), headers=accepted)
    assert keeper.post(path, content=swing_body(), headers=accepted).content == first.content
    in_english = {**accepted, "Accept-Language": "en"}
    assert keeper.post(path, content=swing_body(), headers=in_english).status_code == 422


def test_what_plays_the_part_of_a_rehearsal_is_read_as_one_unless_it_says_otherwise(
    keeper: TestClient, lesson: str
) -> None:
    told = {**json.loads(swing_body()), "intent": "full_speed"}
    silent = {name: value for name, value in told.items() if name != "intent"}
    for body, role, intent in (
        (silent, "rehearsal", "rehearsal"),
        (told, "rehearsal", "full_speed"),
        (silent, "after", "full_speed"),
    ):
        swing = _keep(keeper, lesson, json.dumps(body).encode(), role=role)
        assert (swing["role"], swing["intent"]) == (role, intent)
        path = f"/v1/swings/{swing['id']}"
        assert keeper.post(f"{path}/reanalyse").json()["swing"]["intent"] == intent


def test_a_change_that_changes_nothing_leaves_lesson_and_swing(
    keeper: TestClient, lesson: str
) -> None:
    swing = _keep(keeper, lesson, swing_body(), role="before")
    for path in (lesson, f"/v1/swings/{swing['id']}"):
        was = keeper.get(path)
        same = {k: was.json()[k] for k in ("date", "title", "role", "club") if k in was.json()}
        answer = keeper.patch(path, json=same, headers={"If-Match": was.headers["etag"]})
        assert (answer.status_code, answer.json()) == (200, was.json())
        assert answer.headers["etag"] == was.headers["etag"]


@pytest.mark.parametrize("day", [0, 20250517, "17.5.2025", "2025-02-30", "1899-12-31", None])
def test_a_lesson_needs_a_day_of_the_calendar(keeper: TestClient, day: object) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"}).json()
    answer = keeper.post(f"/v1/players/{player['id']}/lessons", json={"date": day})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/date"


def test_a_deleted_lesson_is_gone(keeper: TestClient, lesson: str) -> None:
    assert keeper.delete(lesson, headers={"If-Match": '"9"'}).status_code == 412
    assert keeper.delete(lesson, headers={"If-Match": '"1"'}).status_code == 204
    assert keeper.get(lesson).status_code == 404


def test_a_kept_swing_is_answered_like_one_that_is_not_kept(
    keeper: TestClient, lesson: str
) -> None:
    body = swing_body(2, View.DOWN_THE_LINE, Club.WEDGE, "swing 1")
    query = {"role": "before", "recorded_at": "2025-05-17T10:00:00+02:00"}
    answer = keeper.post(f"{lesson}/swings", content=body, headers=JSON, params=query)
    assert answer.status_code == 201
    swing, analysis = answer.json()["swing"], answer.json()["analysis"]
    plain = keeper.post("/v1/swings/analyze", content=body, headers=JSON).json()
    assert {name: analysis[name] for name in plain} == plain
    assert analysis.keys() - plain.keys() == {"swing_id", "number", "created"}
    assert (analysis["number"], analysis["service_version"]) == (1, service.__version__)
    assert (swing["role"], swing["recorded_at"]) == ("before", "2025-05-17T08:00:00Z")
    assert (swing["view"], swing["club"]) == ("down_the_line", "wedge")
    assert keeper.get(answer.headers["location"]).json() == swing
    assert keeper.get(f"{answer.headers['location']}/analysis").json() == analysis


def test_a_gzipped_swing_is_kept_as_it_was_meant(keeper: TestClient, lesson: str) -> None:
    packed = gzip.compress(swing_body())
    headers = {**JSON, "Content-Encoding": "gzip"}
    answer = keeper.post(f"{lesson}/swings", content=packed, headers=headers)
    assert answer.status_code == 201
    assert answer.json()["swing"]["swing_found"] is True


def test_a_clip_without_a_swing_is_kept_too(keeper: TestClient, lesson: str) -> None:
    swing = _keep(keeper, lesson, still_body())
    assert (swing["swing_found"], swing["view"]) == (False, None)
    analysis = keeper.get(f"/v1/swings/{swing['id']}/analysis").json()
    assert analysis["reason"]["code"]


def test_a_swing_that_breaks_the_contract_is_not_kept(keeper: TestClient, lesson: str) -> None:
    broken = {**json.loads(swing_body()), "playback_speed": 99}
    answer = keeper.post(f"{lesson}/swings", content=json.dumps(broken), headers=JSON)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/playback_speed"
    answer = keeper.post(f"{lesson}/swings", content=swing_body(reference="a\0b"), headers=JSON)
    assert answer.json()["errors"][0]["pointer"] == "/client_reference"
    assert _ids(keeper) == []


@pytest.mark.parametrize(
    "query",
    [
        "role=middle",
        "recorded_at=0.5",
        "recorded_at=2025-05-17T10:00:00",
        "recorded_at=0001-01-01T00:00:00%2B14:00",
    ],
)
def test_wrong_facts_of_a_swing_are_named(keeper: TestClient, lesson: str, query: str) -> None:
    answer = keeper.post(f"{lesson}/swings?{query}", content=swing_body(), headers=JSON)
    assert (answer.status_code, answer.json()["type"]) == (422, "/problems/invalid-parameter")
    assert answer.json()["parameters"][0]["parameter"] == query.partition("=")[0]


def test_an_analysis_again_stands_beside_the_first(
    keeper: TestClient, lesson: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    swing = _keep(keeper, lesson, swing_body())
    path = f"/v1/swings/{swing['id']}"
    first = keeper.get(f"{path}/analysis").json()
    etag = keeper.get(path).headers["etag"]
    monkeypatch.setattr(service, "__version__", "99.0")
    again = keeper.post(f"{path}/reanalyse")
    assert again.status_code == 201
    made = again.json()["analysis"]
    assert (made["number"], made["service_version"]) == (2, "99.0")
    assert keeper.get(again.headers["location"]).json() == made
    assert keeper.get(f"{path}/analysis").json() == made
    assert keeper.get(f"{path}/analyses/1").json() == first
    assert first["service_version"] != "99.0"
    assert keeper.get(path).headers["etag"] != etag
    entries = keeper.get(f"{path}/analyses").json()["items"]
    assert [entry["service_version"] for entry in entries] == [first["service_version"], "99.0"]


def test_analyses_come_in_pages(keeper: TestClient, lesson: str) -> None:
    swing = _keep(keeper, lesson, still_body())
    path = f"/v1/swings/{swing['id']}"
    for _ in range(2):
        keeper.post(f"{path}/reanalyse")
    first = keeper.get(f"{path}/analyses?limit=2").json()
    rest = keeper.get(f"{path}/analyses", params={"cursor": first["next_cursor"]}).json()
    assert [entry["number"] for entry in first["items"] + rest["items"]] == [1, 2, 3]
    assert rest["next_cursor"] is None


def test_swings_are_found_by_every_filter(keeper: TestClient) -> None:
    early, late = _lesson(keeper, "2025-01-31"), _lesson(keeper, "2025-02-01")
    a = _keep(keeper, early, swing_body(1, View.FACE_ON, Club.DRIVER))
    b = _keep(keeper, late, swing_body(2, View.DOWN_THE_LINE, Club.WEDGE))
    for only_a in (
        {"player_id": a["player_id"]},
        {"lesson_id": a["lesson_id"]},
        {"view": "face_on"},
        {"club": "driver"},
        {"last_day": "2025-01-31"},
    ):
        assert _ids(keeper, **only_a) == [a["id"]], only_a
    assert _ids(keeper, first_day="2025-02-01") == [b["id"]]
    assert _ids(keeper, first_day="2025-01-31", last_day="2025-02-01") == [a["id"], b["id"]]
    assert _ids(keeper, view="face_on", club="wedge") == []


def test_a_fault_alone_is_looked_for_where_it_is_present(keeper: TestClient, lesson: str) -> None:
    found: dict[tuple[str, str], list[object]] = {}
    for body in (faulty_body(), swing_body(1), swing_body(2)):
        swing = _keep(keeper, lesson, body)
        analysis = keeper.get(f"/v1/swings/{swing['id']}/analysis").json()
        for finding in analysis["findings"]:
            found.setdefault((finding["fault"], finding["status"]), []).append(swing["id"])
    assert {"present", "absent"} <= {status for _, status in found}
    for fault in {fault for fault, _ in found}:
        assert _ids(keeper, fault=fault) == found.get((fault, "present"), [])
        assert _ids(keeper, fault=fault, status="absent") == found.get((fault, "absent"), [])


@pytest.mark.parametrize(
    "query",
    [
        "view=above",
        "club=putter",
        "status=maybe",
        "fault=A%00",
        "player_id=me",
        "first_day=x",
        "shoe=7",
    ],
)
def test_a_wrong_filter_is_named(keeper: TestClient, query: str) -> None:
    answer = keeper.get(f"/v1/swings?{query}")
    assert answer.status_code == 422
    assert answer.json()["parameters"][0]["parameter"] == query.partition("=")[0]


def test_a_cursor_is_good_only_with_the_filters_that_it_came_with(
    keeper: TestClient, lesson: str
) -> None:
    made = [_keep(keeper, lesson, swing_body(1, club=Club.DRIVER))["id"] for _ in range(3)]
    page = keeper.get("/v1/swings?limit=2&club=driver").json()
    query = {"cursor": page["next_cursor"], "club": "driver"}
    assert _ids(keeper, **query, limit=1) == made[2:]
    assert keeper.get("/v1/swings", params={**query, "club": "wedge"}).status_code == 422


def test_a_deleted_swing_is_gone_and_its_lesson_stays(keeper: TestClient, lesson: str) -> None:
    path = f"/v1/swings/{_keep(keeper, lesson, still_body())['id']}"
    assert keeper.delete(path).status_code == 204
    assert keeper.delete(path).status_code == 404
    assert keeper.get(lesson).status_code == 200


@pytest.mark.parametrize("record_id", [NOBODY, "nothing", "%00"])
def test_unknown_ids_are_not_found(keeper: TestClient, record_id: str) -> None:
    swing, lesson = f"/v1/swings/{record_id}", f"/v1/lessons/{record_id}"
    below = ("", "/analysis", "/analyses", "/analyses/1")
    answers = [
        *(keeper.get(f"{swing}{path}") for path in below),
        keeper.delete(swing),
        keeper.post(f"{swing}/reanalyse"),
        keeper.get(lesson),
        keeper.patch(lesson, json={"title": "x"}, headers={"If-Match": "*"}),
        keeper.delete(lesson),
        keeper.post(f"{lesson}/swings", content=swing_body(), headers=JSON),
    ]
    assert {answer.status_code for answer in answers} == {404}
    assert {answer.json()["type"] for answer in answers} == {"/problems/not-found"}


def test_an_unknown_analysis_is_not_found(keeper: TestClient, lesson: str) -> None:
    swing = _keep(keeper, lesson, still_body())
    for number in ("0", "2", "99999999999999999999", "x", "-1"):
        path = f"/v1/swings/{swing['id']}/analyses/{number}"
        assert keeper.get(path).status_code == 404, number


def test_a_database_that_fails_is_told_and_leaves_the_analysis_working(tmp_path: Path) -> None:
    nowhere = f"sqlite:///{tmp_path}/no/such/folder/records.db"
    with TestClient(create_app(Settings(database_url=nowhere))) as client:
        answer = client.post("/v1/players", json={"name": "Ada"})
        assert (answer.status_code, answer.json()["type"]) == (503, "/problems/records-unavailable")
        assert "folder" not in answer.text
        analysed = client.post("/v1/swings/analyze", content=still_body(), headers=JSON)
        assert analysed.status_code == 200


def test_what_was_kept_is_there_after_a_restart(database_url: str) -> None:
    settings = Settings(database_url=database_url, migrate_on_start=False)
    with TestClient(create_app(settings)) as client:
        path = client.post("/v1/players", json={"name": "Ada"}).headers["location"]
    with TestClient(create_app(settings)) as client:
        assert client.get(path).json()["name"] == "Ada"


def test_tables_are_made_at_start_unless_that_is_switched_off(empty_database_url: str) -> None:
    settings = Settings(database_url=empty_database_url, migrate_on_start=False)
    with TestClient(create_app(settings)) as client:
        assert client.get("/v1/players").status_code == 503
    with TestClient(create_app(Settings(database_url=empty_database_url))) as client:
        assert client.get("/v1/players").status_code == 200


@pytest.mark.parametrize("number", ["9" * 4301, "9" * 10, "-1", "x"])
def test_a_number_that_no_analysis_can_have_leads_nowhere(keeper: TestClient, number: str) -> None:
    swing = "01890000-0000-7000-8000-000000000000"
    assert keeper.get(f"/v1/swings/{swing}/analyses/{number}").status_code == 404


def test_a_kept_swing_keeps_where_it_was_asked_to_stop(keeper: TestClient, lesson: str) -> None:
    asked = {**json.loads(swing_body()), "asked": {"stop_at": 3.5}}
    kept = _keep(keeper, lesson, json.dumps(asked).encode())
    path = f"/v1/swings/{kept['id']}"
    told = keeper.get(f"{path}/analysis").json()["stopped_at"]
    assert told["asked"] == 3.5
    assert told["reason"] is None
    again = keeper.post(f"{path}/reanalyse").json()["analysis"]["stopped_at"]
    assert again == told
    lesson_id = lesson.rsplit("/", 1)[-1]
    recap = keeper.get(f"/v1/lessons/{lesson_id}/recap").json()
    assert [s["stopped_at"] for s in recap["swings"]] == [told]
