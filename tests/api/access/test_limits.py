"""How often a caller may ask, as the answers tell it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.records import Database, RecordsUnavailable
from service.records.access import keys
from service.records.access.keys import KeyScope
from service.records.access.rates import Rates
from service.records.default_academy import DEFAULT_ACADEMY
from service.settings import Settings


def _service(tmp_path: Path, **settings: object) -> TestClient:
    return TestClient(
        create_app(Settings(database_url=f"sqlite:///{tmp_path / 'records.db'}", **settings))
    )


def _header(client: TestClient) -> dict[str, str]:
    records: Database = client.app.state.records
    with records.writing() as session:
        return {"Authorization": f"Bearer {keys.add(session, DEFAULT_ACADEMY, set(KeyScope))[1]}"}


def test_each_answer_tells_what_is_left_and_the_one_too_many_when_to_come_again(
    tmp_path: Path,
) -> None:
    with _service(tmp_path, open=False, rate_limit=3) as client:
        header, another = _header(client), _header(client)
        for left in (2, 1, 0):
            answer = client.get("/v1/players", headers=header)
            assert answer.status_code == 200
            assert answer.headers["ratelimit-policy"] == '"key";q=3;w=60'
            assert re.fullmatch(rf'"key";r={left};t=\d+', answer.headers["ratelimit"])
        refused = client.get("/v1/players", headers=header)
        assert refused.status_code == 429
        assert refused.json()["type"] == "/problems/too-many-requests"
        assert 0 < int(refused.headers["retry-after"]) <= 20
        assert refused.headers["ratelimit"].startswith('"key";r=0;t=')
        assert client.get("/v1/players", headers=another).status_code == 200
        assert client.get("/v1/faults").status_code == 200, "what is open to all is not counted"


def test_answers_that_routes_make_by_hand_tell_it_too(tmp_path: Path) -> None:
    with _service(tmp_path, open=False) as client:
        header = _header(client)
        consent = {"given_on": "2025-05-17", "by": "guardian"}
        made = client.post("/v1/players", json={"name": "A", "consent": consent}, headers=header)
        assert made.status_code == 201
        assert made.headers["ratelimit-policy"] == '"key";q=600;w=60'


def test_without_keys_callers_are_counted_by_address_only_when_told_to(tmp_path: Path) -> None:
    with _service(tmp_path) as client:
        assert "ratelimit" not in client.get("/v1/players").headers
    with _service(tmp_path, open_rate_limit=1) as client:
        first, second = (client.get("/v1/players") for _ in range(2))
        assert (first.status_code, second.status_code) == (200, 429)
        assert first.headers["ratelimit-policy"] == '"address";q=1;w=60'


def test_requests_go_on_uncounted_while_the_counts_can_not_be_reached(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    asked: list[str] = []

    def away(_: Rates, who: str, __: int) -> None:
        asked.append(who)
        raise RecordsUnavailable("away")

    monkeypatch.setattr(Rates, "count", away)
    with _service(tmp_path, open=False, rate_limit=1) as client:
        header = _header(client)
        for _ in range(3):
            answer = client.get("/v1/players", headers=header)
            assert (answer.status_code, "ratelimit" in answer.headers) == (200, False)
    assert len(asked) == 1, "and they are left alone for a while"
    assert "requests go uncounted" in caplog.text
