"""Consent, the audit, and changed values that are gone."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import httpx
import pytest
from fastapi.testclient import TestClient
from sqlalchemy import exc, text

from service.app import create_app
from service.records import Behalf, ConsentMissing, Database, Window
from service.records.access import audit
from service.records.access.audit import AuditTrail
from service.records.keeping import players
from service.settings import Settings
from tests.attack.two_academies.academies import JSON, keyed_service, make_academy
from tests.records.kept import DAY, still_body
from tests.waiting import until

GUARDIAN = {"given_on": str(DAY), "by": "guardian"}
PLAYER = {"given_on": str(DAY), "by": "player"}
THIS_YEAR = date.today().year


@pytest.fixture
def careful(database_url: str) -> Iterator[TestClient]:
    """A client of a service that asks for consent."""
    settings = Settings(database_url=database_url, migrate_on_start=False, require_consent=True)
    with TestClient(create_app(settings)) as client:
        yield client


def test_a_consent_or_a_birth_of_the_future_is_refused(keeper: TestClient) -> None:
    later = {
        "birth_year": THIS_YEAR + 2,
        "consent": {**PLAYER, "given_on": f"{THIS_YEAR + 2}-01-01"},
    }
    answer = keeper.post("/v1/players", json={"name": "Ada", **later})
    assert answer.status_code == 422
    told = {each["pointer"]: each["problem"] for each in answer.json()["errors"]}
    assert told == dict.fromkeys(("/birth_year", "/consent/given_on"), "lies in the future")
    today = {"birth_year": THIS_YEAR, "consent": {**GUARDIAN, "given_on": str(date.today())}}
    assert keeper.post("/v1/players", json={"name": "Ada", **today}).status_code == 201


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        ({}, 403),
        ({"birth_year": 1980}, 403),
        ({"consent": PLAYER}, 403),
        ({"consent": PLAYER, "birth_year": THIS_YEAR - 12}, 403),
        ({"consent": PLAYER, "birth_year": THIS_YEAR - 18}, 403),
        ({"consent": PLAYER, "birth_year": THIS_YEAR - 19}, 201),
        ({"consent": GUARDIAN}, 201),
        ({"consent": GUARDIAN, "birth_year": THIS_YEAR - 12}, 201),
    ],
)
def test_nothing_is_kept_of_a_player_without_consent_or_of_a_minor_without_a_guardians(
    careful: TestClient, sent: dict[str, object], status: int
) -> None:
    answer = careful.post("/v1/players", json={"name": "Ada", **sent})
    assert answer.status_code == status, answer.text
    assert len(careful.get("/v1/players").json()["items"]) == (status == 201)
    if status == 403:
        assert answer.json()["type"] == "/problems/consent-missing"
        assert "`given_on`" in answer.json()["detail"]
        assert "`guardian`" in answer.json()["detail"], "the fix is told"
    else:
        assert answer.json()["consent"] == sent["consent"]


def test_once_it_is_withdrawn_nothing_more_is_kept_and_what_there_is_can_be_read_and_deleted(
    careful: TestClient,
) -> None:
    made = careful.post("/v1/players", json={"name": "Ada", "consent": GUARDIAN})
    player = made.headers["location"]
    lesson = careful.post(f"{player}/lessons", json={"date": str(DAY)}).headers["location"]
    sent = {"content": still_body(), "headers": JSON}
    swing = careful.post(f"{lesson}/swings", **sent).headers["location"]
    withdrawn = careful.patch(player, json={"consent": None}, headers={"If-Match": "*"})
    assert (withdrawn.status_code, withdrawn.json()["consent"]) == (200, None)
    refused = (
        careful.post(f"{player}/lessons", json={"date": str(DAY)}),
        careful.post(f"{lesson}/swings", **sent),
        careful.post(f"{swing}/reanalyse"),
        careful.patch(swing, json={"intent": "rehearsal"}, headers={"If-Match": "*"}),
    )
    assert [answer.status_code for answer in refused] == [403] * 4
    lines = {"content": still_body() + b"\n", "headers": {"Content-Type": "application/x-ndjson"}}
    line = json.loads(careful.post(f"{lesson}/swings/batch", **lines).text)
    assert line["problem"]["type"] == "/problems/consent-missing"
    assert len(careful.get("/v1/swings").json()["items"]) == 1
    assert careful.get(f"{player}/export").status_code == 200
    assert careful.delete(player).status_code == 204


@pytest.mark.parametrize(
    "consent",
    [
        {"by": "guardian"},
        {"given_on": "2025-05-17"},
        {"given_on": "yesterday", "by": "player"},
        {"given_on": "2025-05-17", "by": "coach"},
        True,
    ],
)
def test_consent_in_another_form_is_refused_with_the_fix(
    keeper: TestClient, consent: object
) -> None:
    answer = keeper.post("/v1/players", json={"name": "Ada", "consent": consent})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"].startswith("/consent")
    assert "given_on" in answer.json()["errors"][0]["fix"]


def test_consent_is_asked_for_where_keys_are_unless_told_otherwise(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'records.db'}"
    with keyed_service(url) as client:
        told = make_academy(client, "north")
        answer = client.post("/v1/players", json={"name": "Ada"}, headers=told.headers)
        assert answer.status_code == 403
    with keyed_service(url, require_consent=False) as client:
        answer = client.post("/v1/players", json={"name": "Ada"}, headers=told.headers)
        assert answer.status_code == 201


def test_records_refuse_it_whoever_calls_them(database: Database) -> None:
    careful = database.on_behalf(Behalf(needs_consent=True))
    with careful.writing() as session, pytest.raises(ConsentMissing):
        players.add(session, "Ada")


def _entries(client: TestClient, **query: object) -> list[dict[str, object]]:
    return client.get("/v1/audit", params=query).json()["items"]


def _read_entries(client: TestClient, route: str) -> list[dict[str, object]]:
    """Entries of readings of a route, once some are written down."""

    def found() -> list[dict[str, object]]:
        read = (e for e in _entries(client, limit=100) if e["action"] == "read")
        return [e for e in read if e["route"] == route]

    return until(found)


def test_the_audit_tells_who_did_what_with_whose_data_and_nothing_of_what_it_was(
    keeper: TestClient,
) -> None:
    named = {"X-Request-ID": "from-the-desk"}
    player = keeper.post("/v1/players", json={"name": "Ada-1f3c"}, headers=named).json()["id"]
    lesson = keeper.post(f"/v1/players/{player}/lessons", json={"date": str(DAY)}).json()["id"]
    kept = keeper.post(f"/v1/lessons/{lesson}/swings", content=still_body(), headers=JSON)
    swing = kept.json()["swing"]["id"]
    keeper.get(f"/v1/swings/{swing}/analysis", headers=named)
    analysis = "/v1/swings/{swing_id}/analysis"
    _read_entries(keeper, analysis)
    assert keeper.delete(f"/v1/swings/{swing}").status_code == 204
    changed = [e for e in _entries(keeper, limit=100) if e["action"] == "changed"]
    assert [(e["method"], e["route"]) for e in changed] == [
        ("POST", "/v1/players"),
        ("POST", "/v1/players/{player_id}/lessons"),
        ("POST", "/v1/lessons/{lesson_id}/swings"),
        ("DELETE", "/v1/swings/{swing_id}"),
    ]
    assert all(e["player_ids"] == [player] for e in changed)
    assert [e["swing_ids"] for e in changed] == [[], [], [swing], [swing]]
    assert changed[0]["request_id"] == "from-the-desk"
    read = _read_entries(keeper, analysis)
    assert [(e["player_ids"], e["swing_ids"], e["request_id"]) for e in read] == [
        ([player], [swing], "from-the-desk")
    ]
    assert "Ada-1f3c" not in keeper.get("/v1/audit/export").text


def test_a_change_that_is_not_kept_is_not_in_the_audit_and_one_that_can_not_be_told_is_not_kept(
    keeper: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    stale = keeper.patch(player, json={"name": "Bo"}, headers={"If-Match": '"7"'})
    assert stale.status_code == 412
    assert [e["route"] for e in _entries(keeper)] == ["/v1/players"]

    def full(*_: object) -> None:
        raise exc.OperationalError("INSERT INTO audit", {}, Exception("disk full"))

    monkeypatch.setattr(audit, "_row", full)
    failed = keeper.patch(player, json={"name": "Bo"}, headers={"If-Match": "*"})
    monkeypatch.undo()
    assert failed.status_code == 503
    assert keeper.get(player).json()["name"] == "Ada"


def test_the_audit_is_read_by_page_by_player_and_as_a_whole(keeper: TestClient) -> None:
    made = [keeper.post("/v1/players", json={"name": "x"}).json()["id"] for _ in range(3)]
    first = keeper.get("/v1/audit", params={"limit": 2}).json()
    assert [e["player_ids"] for e in first["items"]] == [[made[0]], [made[1]]]
    rest = keeper.get("/v1/audit", params={"limit": 2, "cursor": first["next_cursor"]}).json()
    assert rest["items"][0]["player_ids"] == [made[2]]
    of_one = keeper.get("/v1/audit", params={"player_id": made[1]}).json()["items"]
    assert {tuple(e["player_ids"]) for e in of_one} == {(made[1],)}
    lines = [json.loads(line) for line in keeper.get("/v1/audit/export").text.splitlines()]
    assert [e["id"] for e in lines[:3]] == [e["id"] for e in (*first["items"], rest["items"][0])]


def test_what_the_audit_holds_can_not_be_changed(keeper: TestClient) -> None:
    keeper.post("/v1/players", json={"name": "Ada"})
    records: Database = keeper.app.state.records
    with (
        pytest.raises(Exception, match="what the audit holds is not changed"),
        records.connected() as connection,
    ):
        connection.execute(text("UPDATE audit SET route = '/nowhere'"))


def test_readings_that_can_not_be_written_down_hold_nobody_up(
    keeper: TestClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    trail: AuditTrail = keeper.app.state.records._audit
    monkeypatch.setattr(trail._waiting, "maxsize", 1)
    monkeypatch.setattr(trail, "_writer", object())  # nobody takes them away
    answers: list[httpx.Response] = [keeper.get(player) for _ in range(3)]
    monkeypatch.undo()
    assert [answer.status_code for answer in answers] == [200] * 3
    assert "a reading is missing in the audit" in caplog.text


def test_a_page_of_many_tells_as_many_ids_as_a_page_has(database: Database) -> None:
    with database.writing() as session:
        for number in range(3):
            players.add(session, str(number))
    seen = database.on_behalf(Behalf(caller=audit.Caller(None, "r", "GET", "/v1/players")))
    with seen.reading() as session:
        players.fetch_page(session, Window(3))
    database.close()
    with database.reading() as session:
        (entry,) = audit.fetch_page(session, Window(10)).items
    assert (len(entry.player_ids), entry.omitted) == (3, 0)
