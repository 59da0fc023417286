from __future__ import annotations

import json

import pytest
from fastapi.testclient import TestClient

from service.api.http.bodies import body
from service.app import create_app
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.keep_many import MOST_LINES, MOST_REFUSED
from tests.records.kept import still_body, swing_body

LINES = {"Content-Type": "application/x-ndjson"}
NOBODY = "01890000-0000-7000-8000-000000000000"


def _lesson(client: TestClient) -> str:
    player = client.post("/v1/players", json={"name": "Ada"}).json()
    answer = client.post(f"/v1/players/{player['id']}/lessons", json={"date": "2025-05-17"})
    return str(answer.headers["location"])


def _send(client: TestClient, lesson: str, *lines: bytes) -> list[dict[str, object]]:
    answer = client.post(
        f"{lesson}/swings/batch?role=before", content=b"\n".join(lines), headers=LINES
    )
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/x-ndjson"
    return [json.loads(line) for line in answer.text.splitlines()]


def _kept(client: TestClient) -> list[object]:
    return client.get("/v1/swings").json()["items"]


def test_every_line_is_kept_and_answered_in_its_turn(keeper: TestClient) -> None:
    lesson = _lesson(keeper)
    answers = _send(keeper, lesson, swing_body(1, reference="a"), b"", swing_body(2), still_body())
    assert [(answer["line"], answer["status"]) for answer in answers] == [
        (1, 201),
        (3, 201),
        (4, 201),
    ]
    assert [answer["swing"] for answer in answers] == _kept(keeper)
    assert answers[0]["swing"]["client_reference"] == "a"
    assert {answer["swing"]["role"] for answer in answers} == {"before"}


def test_a_line_that_is_refused_is_told_and_loses_no_other(keeper: TestClient) -> None:
    broken = json.dumps({**json.loads(still_body()), "fps": 60}).encode()
    answers = _send(keeper, _lesson(keeper), still_body(), b"{", broken, still_body())
    assert [answer["status"] for answer in answers] == [201, 400, 422, 201]
    assert answers[1]["problem"]["type"] == "/problems/malformed-json"
    assert answers[2]["problem"]["errors"][0]["pointer"]
    assert "swing" not in answers[2]
    assert len(_kept(keeper)) == 2


def test_a_line_that_fails_unforeseen_loses_no_other(
    keeper: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    analyse_body = Analyser.analyse_body

    def fail_once(*arguments: object) -> object:
        monkeypatch.setattr(Analyser, "analyse_body", analyse_body)
        raise RuntimeError("secret")

    monkeypatch.setattr(Analyser, "analyse_body", fail_once)
    answers = _send(keeper, _lesson(keeper), still_body(), still_body())
    assert [answer["status"] for answer in answers] == [500, 201]
    assert "secret" not in json.dumps(answers)


def test_lines_and_bodies_over_the_limit_are_refused(database_url: str) -> None:
    longest = len(still_body())
    settings = Settings(
        database_url=database_url, max_body_bytes=longest, max_batch_bytes=6 * longest
    )
    with TestClient(create_app(settings)) as client:
        lesson = _lesson(client)
        too_long = still_body() + b" " * (2 * longest)
        answers = _send(client, lesson, still_body(), too_long, still_body())
        assert [answer["status"] for answer in answers] == [201, 413, 201]
        too_much = b"\n".join([still_body()] * 6) + b"\n" * 5
        path = f"{lesson}/swings/batch"
        assert client.post(path, content=too_much, headers=LINES).status_code == 413
        assert len(_kept(client)) == 2


def test_a_batch_that_can_not_begin_is_refused_as_a_whole(keeper: TestClient) -> None:
    lesson = _lesson(keeper)
    path = f"{lesson}/swings/batch"
    assert keeper.post(path, content=b"{}", headers={"Content-Type": "text/csv"}).status_code == 415
    packed = {**LINES, "Content-Encoding": "gzip"}
    assert keeper.post(path, content=b"{}", headers=packed).status_code == 415
    unknown = f"/v1/lessons/{NOBODY}/swings/batch"
    assert keeper.post(unknown, content=b"{}", headers=LINES).status_code == 404
    assert _send(keeper, lesson) == []


def test_a_full_disk_is_told_as_such(keeper: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    class Full:
        def write(self, _: bytes) -> int:
            raise OSError(28, "No space left on device")

        def close(self) -> None:
            pass

    lesson = _lesson(keeper)
    monkeypatch.setattr(body, "SpooledTemporaryFile", lambda **_: Full())
    answer = keeper.post(f"{lesson}/swings/batch", content=still_body(), headers=LINES)
    assert (answer.status_code, answer.json()["type"]) == (507, "/problems/no-space")
    assert _kept(keeper) == []


@pytest.mark.parametrize(
    ("line", "read"), [(b"\n", MOST_LINES), (b"1\n", MOST_REFUSED + 1)], ids=["empty", "no swing"]
)
def test_millions_of_lines_are_cut_off_with_one_answer(
    keeper: TestClient, line: bytes, read: int
) -> None:
    lesson = _lesson(keeper)
    many = still_body() + b"\n" + line * 3_000_000
    answers = _send(keeper, lesson, many)
    assert answers[0]["status"] == 201
    assert (answers[-1]["line"], answers[-1]["status"]) == (read + 1, 413)
