from __future__ import annotations

import codecs
import csv
import io
import json
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import func, select

from service.analysis.types import Handedness
from service.api.batches import flat, media
from service.records import Database
from service.records.batches.entities import LINES_AN_ITEM
from service.records.batches.tables import BatchItemRow, BatchResultRow, BatchRow
from service.records.keeping import players
from service.use_cases.batches.work import Worker
from tests.api.batches.conftest import MAX_BODY
from tests.api.batches.sending import (
    NDJSON,
    alone,
    bodies,
    results,
    send,
    state,
    two_swings,
)
from tests.records.kept import keep_lesson, keep_player, still_body

Work = Callable[[], int]
OPENAPI = Path(__file__).parents[3] / "openapi"
BROKEN = b'{"client_reference": "broken one", "fps": 60, "keypoints": [['
WRONG = json.dumps({**json.loads(still_body("wrong one")), "fps": 60}).encode()


def test_each_line_is_answered_as_it_is_alone_in_the_order_of_the_lines(
    client: TestClient, work: Work
) -> None:
    first, second = two_swings()
    batch = send(client, first, b"", still_body("still"), second, packed=True)
    assert (batch["state"], batch["total"], batch["done"]) == ("waiting", 3, 0)
    work()
    found = results(client, batch)
    assert [line["line"] for line in found] == [1, 3, 4]
    assert [line["client_reference"] for line in found] == ["first", "still", "second"]
    assert {line["status"] for line in found} == {200}
    assert [line["analysis"] for line in found] == [
        alone(first),
        alone(still_body("still")),
        alone(second),
    ]
    ended = state(client, batch)
    assert (ended["state"], ended["done"], ended["failed"]) == ("done", 3, 0)
    assert ended["per_second"] > 0


def test_a_broken_line_is_told_with_its_reference_and_loses_no_other(
    client: TestClient, work: Work
) -> None:
    too_long = b'{"client_reference": "too long"' + b" " * MAX_BODY + b"}"
    batch = send(client, still_body("a"), BROKEN, WRONG, too_long, b"\0", still_body("b"))
    work()
    found = results(client, batch)
    assert [line["status"] for line in found] == [200, 400, 422, 413, 400, 200]
    references = ["a", "broken one", "wrong one", "too long", None, "b"]
    assert [line["client_reference"] for line in found] == references
    assert found[2]["problem"]["errors"][0]["pointer"]
    assert "analysis" not in found[2]
    told = state(client, batch)
    assert (told["total"], told["done"], told["failed"]) == (6, 2, 4)


def test_a_club_that_is_not_known_costs_no_line(client: TestClient, work: Work) -> None:
    body = json.dumps({**json.loads(still_body()), "club": "Putter"}).encode()
    batch = send(client, body)
    work()
    (line,) = results(client, batch)
    assert line["status"] == 200, line
    assert line["analysis"]["club"] is None
    (remark,) = (r for r in line["analysis"]["quality"]["remarks"] if r["code"] == "club_not_known")
    assert "'Putter'" in remark["text"]


def test_results_are_there_in_order_while_the_rest_is_still_to_be_done(
    client: TestClient, make_worker: Callable[..., Worker]
) -> None:
    batch = send(client, *bodies(2 * LINES_AN_ITEM + 1))
    assert results(client, batch, follow=False) == []
    make_worker().turn(threading.Event())
    assert [line["line"] for line in results(client, batch, follow=False)] == list(
        range(1, LINES_AN_ITEM + 1)
    )
    running = state(client, batch)
    assert (running["state"], running["done"]) == ("running", LINES_AN_ITEM)
    assert running["seconds_left"] > 0


def test_whoever_follows_gets_every_line_however_late_it_comes(
    client: TestClient, work: Work
) -> None:
    batch = send(client, *bodies(2 * LINES_AN_ITEM + 3))
    worker = threading.Timer(0.3, work)
    worker.start()
    found = results(client, batch)
    worker.join()
    assert [line["line"] for line in found] == list(range(1, 2 * LINES_AN_ITEM + 4))


def test_an_answer_that_broke_off_is_taken_up_again_after_any_line(
    client: TestClient, work: Work
) -> None:
    batch = send(client, *bodies(LINES_AN_ITEM + 3))
    work()
    whole = results(client, batch)
    for after in (1, LINES_AN_ITEM - 1, LINES_AN_ITEM, LINES_AN_ITEM + 3):
        assert results(client, batch, after_line=after) == whole[after:]


def test_a_table_has_a_row_for_each_line_and_columns_for_each_fault(
    client: TestClient, work: Work
) -> None:
    swing, _ = two_swings()
    batch = send(client, swing, WRONG)
    work()
    path = f"/v1/batches/{batch['id']}/results"
    answer = client.get(path, headers={"Accept": "text/csv"})
    assert answer.headers["content-type"].startswith("text/csv")
    good, wrong = csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig")))
    for finding in alone(swing)["findings"]:
        assert good[f"{finding['fault']}.status"] == finding["status"]
        assert good[f"{finding['fault']}.severity_unit"] == (finding["severity_unit"] or "")
        assert good[f"{finding['fault']}.reason"] == (finding["reason"] or {"code": ""})["code"]
    assert (good["client_reference"], good["swing_found"]) == ("first", "true")
    assert (wrong["client_reference"], wrong["status"]) == ("wrong one", "422")
    assert wrong["problem"] == "/problems/invalid-request"
    (line,) = (each for each in results(client, batch) if each["status"] == 422)
    first = line["problem"]["errors"][0]
    assert first["pointer"] in wrong["problem_detail"]
    assert first["fix"] in wrong["problem_detail"]
    parquet = pytest.importorskip("pyarrow.parquet")
    answer = client.get(path, headers={"Accept": media.Form.PARQUET})
    table = parquet.read_table(io.BytesIO(answer.content)).to_pylist()
    assert [row["client_reference"] for row in table] == ["first", "wrong one"]
    for finding in alone(swing)["findings"]:
        assert table[0][f"{finding['fault']}.score"] == finding["score"]


def test_a_spreadsheet_is_told_that_letters_are_utf_8(client: TestClient, work: Work) -> None:
    batch = send(client, still_body(reference="Übung"))
    work()
    path = f"/v1/batches/{batch['id']}/results"
    told = client.get(path, headers={"Accept": "text/csv"}).content
    assert told.startswith(codecs.BOM_UTF8 + b"line,")
    assert told.count(codecs.BOM_UTF8) == 1
    assert "Übung".encode() in told


def test_a_table_tells_in_which_frame_each_fault_shows_most() -> None:
    answer = (OPENAPI / "examples/down-the-line-with-club-answer.json").read_text("utf-8")
    (row,) = flat.rows(b'{"line":1,"analysis":%s}' % " ".join(answer.split()).encode())
    shown = {f["fault"]: f["shows_most"] for f in json.loads(answer)["findings"] if f["shows_most"]}
    assert shown
    for fault, at in shown.items():
        told = row[f"{fault}.shows_most_frame"], row[f"{fault}.shows_most_s"]
        assert told == (at["frame"], at["time_s"])


def test_a_spreadsheet_works_nothing_out_that_a_caller_wrote(
    client: TestClient, work: Work
) -> None:
    formula = "=HYPERLINK(1)"
    batch = send(client, still_body(reference=formula))
    work()
    path = f"/v1/batches/{batch['id']}/results"
    told = client.get(path, headers={"Accept": "text/csv"}).content
    (row,) = csv.DictReader(io.StringIO(told.decode("utf-8-sig")))
    assert row["client_reference"] == f"'{formula}"
    (line,) = results(client, batch)
    assert line["client_reference"] == formula


def test_a_form_that_there_is_not_is_refused_with_the_reason(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = f"/v1/batches/{send(client)['id']}/results"
    answer = client.get(path, headers={"Accept": "application/json"})
    assert (answer.status_code, answer.json()["type"]) == (406, "/problems/not-acceptable")
    monkeypatch.setattr(media, "find_spec", lambda _: None)
    answer = client.get(path, headers={"Accept": media.Form.PARQUET})
    assert answer.status_code == 406
    assert "`archive`" in answer.json()["detail"]


def test_a_batch_in_which_nothing_stands_is_done(client: TestClient, work: Work) -> None:
    assert send(client)["state"] == "done"
    blank = send(client, b"", b" ")
    work()
    assert (state(client, blank)["state"], results(client, blank)) == ("done", [])


def test_a_cancelled_batch_keeps_what_is_done_and_does_no_more(
    client: TestClient, work: Work, make_worker: Callable[..., Worker]
) -> None:
    batch = send(client, *bodies(3 * LINES_AN_ITEM))
    make_worker().turn(threading.Event())
    told = client.post(f"/v1/batches/{batch['id']}/cancel")
    assert (told.status_code, told.json()["state"]) == (200, "cancelled")
    assert work() == 0
    assert len(results(client, batch)) == LINES_AN_ITEM
    assert client.post(f"/v1/batches/{batch['id']}/cancel").json()["state"] == "cancelled"


def test_a_deleted_batch_is_gone(client: TestClient, work: Work, database: Database) -> None:
    batch = send(client, *bodies(3))
    kept = send(client, *bodies(3))
    work()
    assert client.delete(f"/v1/batches/{batch['id']}").status_code == 204
    for path in ("", "/results"):
        assert client.get(f"/v1/batches/{batch['id']}{path}").status_code == 404
    assert client.delete(f"/v1/batches/{batch['id']}").status_code == 404
    listed = client.get("/v1/batches").json()["items"]
    assert [each["id"] for each in listed] == [kept["id"]]
    assert _counts(database) == {BatchRow: 1, BatchItemRow: 0, BatchResultRow: 1}


def test_batches_are_listed_by_pages_and_states(client: TestClient, work: Work) -> None:
    done = [send(client, *bodies(1)) for _ in range(3)]
    work()
    waiting = send(client, *bodies(1))
    page = client.get("/v1/batches", params={"limit": 2, "state": "done"}).json()
    rest = client.get(
        "/v1/batches", params={"limit": 2, "state": "done", "cursor": page["next_cursor"]}
    ).json()
    ids = [each["id"] for each in page["items"] + rest["items"]]
    assert ids == [each["id"] for each in done]
    (item,) = client.get("/v1/batches", params={"state": "waiting"}).json()["items"]
    assert item["id"] == waiting["id"]


def test_a_batch_sent_again_with_its_key_is_taken_in_once(
    client: TestClient, database: Database
) -> None:
    keyed = NDJSON | {"Idempotency-Key": "one"}
    sent: dict[str, Any] = {"content": b"\n".join(bodies(3)), "headers": keyed}
    first, again = (client.post("/v1/batches", **sent) for _ in range(2))
    assert (first.status_code, again.status_code) == (202, 202)
    assert first.json() == again.json()
    assert _counts(database)[BatchRow] == 1
    other = client.post("/v1/batches", content=b"\n".join(bodies(2)), headers=keyed)
    assert (other.status_code, other.json()["type"]) == (422, "/problems/idempotency-key-reused")
    assert _counts(database) == {BatchRow: 1, BatchItemRow: 1, BatchResultRow: 0}


def test_swings_of_a_batch_are_kept_in_a_lesson_each_once(
    client: TestClient, work: Work, database: Database
) -> None:
    lesson = keep_lesson(database, keep_player(database))
    with_nul = json.dumps({**json.loads(still_body()), "client_reference": "a\0b"}).encode()
    first, _ = two_swings()
    batch = send(client, first, BROKEN, with_nul, lesson_id=lesson.id, role="before")
    work()
    found = results(client, batch)
    assert [line["status"] for line in found] == [201, 400, 422]
    (kept,) = client.get("/v1/swings").json()["items"]
    assert (kept["id"], kept["role"]) == (found[0]["swing_id"], "before")
    assert kept["client_reference"] == "first"
    client.delete(f"/v1/batches/{batch['id']}")
    assert len(client.get("/v1/swings").json()["items"]) == 1, "what is kept is the lesson's"


def test_a_batch_of_rehearsals_is_read_as_such_but_for_lines_that_say_otherwise(
    client: TestClient, work: Work, database: Database
) -> None:
    lesson = keep_lesson(database, keep_player(database))
    told = {**json.loads(still_body()), "intent": "full_speed"}
    silent = {name: value for name, value in told.items() if name != "intent"}
    lines = [json.dumps(each).encode() for each in (silent, told)]
    send(client, *lines, lesson_id=lesson.id, role="rehearsal")
    work()
    kept = client.get("/v1/swings").json()["items"]
    assert {swing["role"] for swing in kept} == {"rehearsal"}
    assert sorted(swing["intent"] for swing in kept) == ["full_speed", "rehearsal"]


def test_a_batch_goes_with_the_lesson_it_keeps_in(
    client: TestClient, work: Work, database: Database
) -> None:
    lesson = keep_lesson(database, keep_player(database))
    batch = send(client, *bodies(3), lesson_id=lesson.id)
    assert client.delete(f"/v1/lessons/{lesson.id}").status_code == 204
    work()
    assert client.get(f"/v1/batches/{batch['id']}").status_code == 404
    assert set(_counts(database).values()) == {0}


def test_a_batch_that_can_not_begin_is_refused_and_leaves_nothing(
    client: TestClient, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    unknown = {"lesson_id": "01890000-0000-7000-8000-000000000000"}
    refused = [
        client.post("/v1/batches", content=b"{}", headers={"Content-Type": "text/csv"}),
        client.post("/v1/batches", content=still_body(), headers=NDJSON, params=unknown),
        client.post("/v1/batches", content=b"x", headers=NDJSON | {"Content-Encoding": "gzip"}),
        client.post("/v1/batches", content=b"x", headers=NDJSON, params={"roll": "before"}),
        client.post("/v1/batches", content=still_body(), headers=NDJSON, params={"role": "before"}),
    ]
    (wrong,) = refused[-1].json()["parameters"]
    assert (wrong["parameter"], "role" in wrong["problem"]) == ("lesson_id", True)
    monkeypatch.setattr("service.use_cases.batches.create.MOST_LINES", 40)
    refused.append(client.post("/v1/batches", content=b"\n" * 50, headers=NDJSON))
    assert [answer.status_code for answer in refused] == [415, 404, 400, 422, 422, 413]
    assert set(_counts(database).values()) == {0}


def _counts(database: Database) -> dict[type, int]:
    with database.reading() as session:
        return {
            table: session.scalar(select(func.count()).select_from(table)) or 0
            for table in (BatchRow, BatchItemRow, BatchResultRow)
        }


def test_a_batch_kept_in_a_lesson_has_the_day_it_is_given_and_is_held_against_the_player(
    client: TestClient, work: Work, database: Database
) -> None:
    with database.writing() as session:
        player = players.add(session, "Ada Fairway", Handedness.LEFT)
    lesson = keep_lesson(database, player)
    at = "2024-05-17T10:00:00Z"
    batch = send(client, two_swings()[0], lesson_id=lesson.id, recorded_at=at)
    work()
    (kept,) = client.get("/v1/swings").json()["items"]
    assert kept["recorded_at"] == at
    (line,) = results(client, batch)
    remarks = {remark["code"] for remark in line["analysis"]["quality"]["remarks"]}
    assert "handedness_contradicts_record" in remarks
