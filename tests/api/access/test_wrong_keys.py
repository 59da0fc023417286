"""Guesses at keys: counted by address, over all processes, and never at a customer's cost."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.api.access import remembered
from service.app import create_app
from service.records import Database
from service.records.access import keys, rates
from service.records.access.keys import KeyScope
from service.records.access.rates import Rates
from service.records.default_academy import DEFAULT_ACADEMY
from service.settings import Settings

MOST = 3


def _service(url: str, address: str = "192.0.2.7", **settings: object) -> TestClient:
    service = create_app(Settings(database_url=url, open=False, wrong_key_limit=MOST, **settings))
    return TestClient(service, client=(address, 40_000))


def _guess(number: int) -> dict[str, str]:
    return {"Authorization": f"Bearer swing_{number:012x}_{number:064x}"}


def _key(client: TestClient) -> tuple[str, dict[str, str]]:
    records: Database = client.app.state.records
    with records.writing() as session:
        made, key = keys.add(session, DEFAULT_ACADEMY, set(KeyScope))
    return made.prefix, {"Authorization": f"Bearer {key}"}


def _statuses(client: TestClient, *headers: dict[str, str]) -> list[int]:
    return [client.get("/v1/players", headers=header).status_code for header in headers]


def test_guesses_beyond_some_are_told_to_wait_and_a_right_key_is_let_in_all_the_same(
    empty_database_url: str, caplog: pytest.LogCaptureFixture
) -> None:
    with _service(empty_database_url) as client:
        prefix, good = _key(client)
        _, other = _key(client)
        assert _statuses(client, good) == [200]
        wrong = {"Authorization": f"Bearer {prefix}_{0:064x}"}  # of a key that there is
        assert _statuses(client, _guess(1), wrong, {"Authorization": "Basic x"}) == [401] * MOST
        for header in (_guess(2), wrong, _guess(1)):
            answer = client.get("/v1/players", headers=header)
            assert (answer.status_code, answer.json()["type"]) == (
                429,
                "/problems/too-many-requests",
            )
            assert "a right one is let in" in answer.json()["detail"]
            assert 0 < int(answer.headers["retry-after"]) <= 60 // MOST
        assert _statuses(client, good, other) == [200, 200], "known before, and never seen before"
        assert _statuses(client, {}) == [401], "without a key nothing is guessed"
        assert client.get("/v1/faults").status_code == 200
    told = [each for each in caplog.records if each.message == "wrong keys keep coming"]
    assert [each.fields for each in told] == [{"from": "192.0.2.7"}], "once, not each time"


def test_processes_count_guesses_together_and_addresses_apart(empty_database_url: str) -> None:
    with _service(empty_database_url) as one, _service(empty_database_url) as two:
        guesses = [_guess(number) for number in range(MOST)]
        assert _statuses(one, *guesses) == [401] * MOST
        assert _statuses(two, *guesses) == [429] * MOST
        with _service(empty_database_url, "192.0.2.8") as elsewhere:
            assert _statuses(elsewhere, *guesses) == [401] * MOST


def test_an_ipv6_network_is_one_caller(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'records.db'}"
    for number in range(MOST):
        with _service(url, f"2001:db8::{number:x}") as client:
            assert _statuses(client, _guess(number)) == [401]
    with _service(url, "2001:db8::ffff") as client:
        assert _statuses(client, _guess(9)) == [429]
    with _service(url, "2001:db8:0:1::1") as client:
        assert _statuses(client, _guess(9)) == [401]


def test_guesses_do_not_have_keys_forgotten_that_are_in_use(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(remembered, "_MOST", 4)
    with _service(f"sqlite:///{tmp_path / 'records.db'}") as client:
        _, good = _key(client)
        assert _statuses(client, good) == [200]
        _statuses(client, *map(_guess, range(10)))
        monkeypatch.setattr(keys, "find", pytest.fail)
        assert _statuses(client, good) == [200], "still remembered, whatever becomes of the records"


def test_whoever_has_long_gone_leaves_no_row(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    counts = Rates(f"sqlite:///{tmp_path / 'records.db'}")
    monkeypatch.setattr(rates, "WINDOW", 0.05)
    for number in range(20):
        counts.count(f"from {number}", 1)
    time.sleep(0.1)
    counts.count("from 20", 1)
    with closing(sqlite3.connect(tmp_path / "records.allowances")) as file:
        assert file.execute("SELECT count(*) FROM allowance").fetchone() == (1,)
