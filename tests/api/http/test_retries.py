"""Requests sent again with the same Idempotency-Key keep nothing twice, on both databases."""

from __future__ import annotations

import gzip
import json
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import update

from service.app import create_app
from service.records import Database, _rows
from service.records.keeping import retries
from service.records.tables import PlayerRow, RetryRow, SwingRow
from service.settings import Settings
from tests.records.kept import keep_player, rows_in, still_body, swing_body

JSON = {"Content-Type": "application/json"}
LINES = {"Content-Type": "application/x-ndjson"}
KEY = {"Idempotency-Key": "5b1f7c1e-retry"}


@pytest.fixture
def lesson(keeper: TestClient) -> str:
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    return str(keeper.post(f"{player}/lessons", json={"date": "2025-05-17"}).headers["location"])


def test_every_post_that_keeps_something_answers_a_retry_with_its_first_answer(
    keeper: TestClient, lesson: str
) -> None:
    swing = keeper.post(f"{lesson}/swings", content=still_body(), headers=JSON).json()["swing"]
    player = f"/v1/players/{swing['player_id']}"
    posts = {
        "/v1/players": b'{"name": "Bo"}',
        f"{player}/lessons": b'{"date": "2025-06-01"}',
        f"{lesson}/swings?role=before": swing_body(1),
        f"/v1/swings/{swing['id']}/reanalyse": b"",
    }
    contract = keeper.get("/openapi.json").json()["paths"]
    keyed = {
        path
        for path, operations in contract.items()
        for parameter in operations.get("post", {}).get("parameters", ())
        if parameter.get("name") == "Idempotency-Key"
    }
    assert len(keyed) == len(posts) + 3  # two of many swings and approvals have tests of their own
    for number, (path, body) in enumerate(posts.items()):
        headers = {**JSON, "Idempotency-Key": f"key-{number}"}
        first, again = (keeper.post(path, content=body, headers=headers) for _ in range(2))
        assert first.status_code == again.status_code == 201
        assert first.content == again.content
        for name in ("location", "etag", "content-type"):
            assert first.headers[name] == again.headers[name]
    assert len(keeper.get("/v1/players").json()["items"]) == 2
    assert len(keeper.get(f"{player}/lessons").json()["items"]) == 2
    assert len(keeper.get("/v1/swings").json()["items"]) == 2
    assert keeper.get(f"/v1/swings/{swing['id']}").json()["analyses"] == 2


def test_a_key_used_for_another_request_is_refused_and_nothing_kept(
    keeper: TestClient, lesson: str
) -> None:
    assert keeper.post("/v1/players", json={"name": "Bo"}, headers=KEY).status_code == 201
    others = [
        keeper.post("/v1/players", json={"name": "Cy"}, headers=KEY),
        keeper.post(f"{lesson}/swings", content=still_body(), headers={**JSON, **KEY}),
    ]
    for other in others:
        assert other.status_code == 422
        assert other.json()["type"] == "/problems/idempotency-key-reused"
    assert len(keeper.get("/v1/players").json()["items"]) == 2
    assert keeper.get("/v1/swings").json()["items"] == []


def test_without_a_key_every_request_is_done(keeper: TestClient) -> None:
    ids = {keeper.post("/v1/players", json={"name": "Bo"}).json()["id"] for _ in range(2)}
    assert len(ids) == 2


def test_a_refused_request_may_be_mended_under_its_key(keeper: TestClient) -> None:
    assert keeper.post("/v1/players", json={"nam": "Bo"}, headers=KEY).status_code == 422
    assert keeper.post("/v1/players", json={"name": "Bo"}, headers=KEY).status_code == 201


@pytest.mark.parametrize("key", ["", "a b", "x" * 201])
def test_what_can_be_no_key_is_refused(keeper: TestClient, key: str) -> None:
    answer = keeper.post("/v1/players", json={"name": "Bo"}, headers={"Idempotency-Key": key})
    assert answer.status_code == 422
    assert answer.json()["parameters"][0]["parameter"] == "Idempotency-Key"


def test_a_body_packed_anew_is_the_same_request(keeper: TestClient, lesson: str) -> None:
    packed = {**JSON, **KEY, "Content-Encoding": "gzip"}
    first, again = (
        keeper.post(f"{lesson}/swings", content=gzip.compress(still_body(), m), headers=packed)
        for m in (1, 9)
    )
    assert first.json() == again.json()


def test_of_requests_that_come_at_once_one_is_done_and_all_get_its_answer(
    keeper: TestClient, lesson: str, database: Database
) -> None:
    def send(number: int) -> tuple[int, bytes]:
        path, body = (
            (f"{lesson}/swings", still_body()) if number % 2 else ("/v1/players", b'{"name":"Bo"}')
        )
        headers = {**JSON, "Idempotency-Key": f"at-once-{number % 2}"}
        answer = keeper.post(path, content=body, headers=headers)
        return answer.status_code, answer.content

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(send, range(24)))
    assert {status for status, _ in answers} == {201}
    assert len({body for _, body in answers}) == 2
    assert (rows_in(database, PlayerRow), rows_in(database, SwingRow)) == (2, 1)


def test_two_processes_with_one_database_keep_one(database_url: str, database: Database) -> None:
    settings = Settings(database_url=database_url, migrate_on_start=False)
    with TestClient(create_app(settings)) as one, TestClient(create_app(settings)) as other:

        def send(number: int) -> bytes:
            client = (one, other)[number % 2]
            return client.post("/v1/players", json={"name": "Bo"}, headers=KEY).content

        with ThreadPoolExecutor(6) as pool:
            assert len(set(pool.map(send, range(18)))) == 1
    assert rows_in(database, PlayerRow) == 1


def test_a_batch_sent_again_keeps_only_what_was_not_kept(keeper: TestClient, lesson: str) -> None:
    def send(*lines: bytes) -> list[dict[str, object]]:
        answer = keeper.post(
            f"{lesson}/swings/batch", content=b"\n".join(lines), headers={**LINES, **KEY}
        )
        return [json.loads(line) for line in answer.text.splitlines()]

    first = send(still_body(), b"{")
    again = send(still_body(), swing_body(1), swing_body(2))
    assert again[0] == first[0]
    assert [line["status"] for line in again] == [201, 201, 201]
    assert len(keeper.get("/v1/swings").json()["items"]) == 3
    changed = send(swing_body(1), swing_body(1))
    assert changed[0]["problem"]["type"] == "/problems/idempotency-key-reused"
    assert changed[1] == again[1]


def test_answers_kept_for_long_enough_are_forgotten(keeper: TestClient, database: Database) -> None:
    first = keeper.post("/v1/players", json={"name": "Bo"}, headers=KEY).json()
    keeper.post("/v1/players", json={"name": "Cy"}, headers={"Idempotency-Key": "other"})
    with database.writing() as session:
        long_ago = _rows.now() - timedelta(hours=25)
        session.execute(update(RetryRow).values(created=long_ago))
    again = keeper.post("/v1/players", json={"name": "Bo"}, headers=KEY).json()
    assert again["id"] != first["id"]
    assert rows_in(database, RetryRow) == 1


def test_a_first_answer_is_found_as_it_was_kept(database: Database) -> None:
    player = keep_player(database)
    attempt = retries.Attempt("a key", b"a digest", timedelta(hours=1))
    answer = retries.FirstAnswer("player", player.id, "/v1/players/1", '"1"', b"{}")
    with database.writing() as session:
        assert retries.find(session, attempt) is None
        retries.keep(session, attempt, answer)
    with database.reading() as session:
        assert retries.find(session, attempt) == answer


def test_what_is_deleted_takes_its_answers_along(
    keeper: TestClient, lesson: str, database: Database
) -> None:
    swing = keeper.post(f"{lesson}/swings", content=still_body(), headers={**JSON, **KEY}).json()
    player = {"Idempotency-Key": "player"}
    made = keeper.post("/v1/players", json={"name": "Bo"}, headers=player).headers["location"]
    assert rows_in(database, RetryRow) == 2
    keeper.delete(f"/v1/players/{swing['swing']['player_id']}")
    keeper.delete(made)
    assert rows_in(database, RetryRow) == 0


def test_a_key_alone_tells_nothing_of_what_failed_to_be_kept(
    keeper: TestClient, database: Database
) -> None:
    nobody = "/v1/players/01890000-0000-7000-8000-000000000000/lessons"
    assert keeper.post(nobody, json={"date": "2025-05-17"}, headers=KEY).status_code == 404
    assert rows_in(database, RetryRow) == 0
