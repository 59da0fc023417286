"""Who is let in: bearers of a good key, and everybody only on an address of this machine."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace

import anyio
import pytest
from fastapi.testclient import TestClient

from service.__main__ import main
from service.api.access import remembered
from service.api.access.door import Bearer, Door, NobodyCouldEnter
from service.api.access.remembered import Remembered
from service.api.health import readiness
from service.api.problems.details import ProblemError
from service.app import create_app
from service.records import Database, RecordsUnavailable, upgrade
from service.records.access import keys
from service.records.access.keys import KeyScope
from service.records.default_academy import DEFAULT_ACADEMY
from service.settings import Settings, on_loopback
from tests.api.clips import ANALYZE, clip


@pytest.fixture
def url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'records.db'}"


@pytest.fixture
def records(url: str) -> Iterator[Database]:
    database = Database(url)
    upgrade(database)
    yield database
    database.close()


@pytest.fixture
def closed(url: str, records: Database) -> Iterator[TestClient]:
    with TestClient(create_app(Settings(database_url=url, open=False, rate_limit=0))) as client:
        yield client


def _key(records: Database, lasts: timedelta | None = None) -> tuple[str, dict[str, str]]:
    """Prefix of a new key, and the header that sends it."""
    with records.writing() as session:
        made, key = keys.add(session, DEFAULT_ACADEMY, set(KeyScope), lasts=lasts)
    return made.prefix, {"Authorization": f"Bearer {key}"}


def test_without_keys_whoever_is_on_this_machine_is_let_in_and_told_so(
    url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(readiness, "LONGEST", 30.0)  # for a busy machine
    with TestClient(create_app(Settings(database_url=url))) as client:
        assert client.get("/v1/players").status_code == 200
        assert client.get("/").json()["access"].startswith("open: whoever reaches this address")
        assert client.get("/readyz").json()["access"].startswith("open: ")


@pytest.mark.parametrize("header", ["Forwarded", "X-Forwarded-For"])
def test_what_a_proxy_passes_on_is_no_request_of_this_machine(url: str, header: str) -> None:
    sent = {header: "for=192.0.2.7"}
    with TestClient(create_app(Settings(database_url=url))) as client:
        assert client.get("/v1/players", headers=sent).status_code == 401
        assert client.get("/v1/faults", headers=sent).status_code == 200
    with TestClient(create_app(Settings(database_url=url, open=True))) as client:
        assert client.get("/v1/players", headers=sent).status_code == 200


def test_the_first_key_shuts_the_door_of_a_running_service(
    url: str, records: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(remembered, "GOOD_FOR", 0.0)
    with TestClient(create_app(Settings(database_url=url))) as client:
        assert client.get("/v1/players").status_code == 200
        _, header = _key(records)
        assert client.get("/v1/players").status_code == 401
        assert client.get("/v1/players", headers=header).status_code == 200
        assert client.get("/").json()["access"] == "API keys are asked for"


def test_a_key_that_is_expired_revoked_unknown_or_no_key_opens_nothing(
    closed: TestClient, records: Database
) -> None:
    prefix, revoked = _key(records)
    _, expired = _key(records, timedelta(0))
    _, good = _key(records)
    with records.writing() as session:
        keys.revoke(session, prefix)
    other = good["Authorization"][:-1] + ("0" if good["Authorization"][-1] != "0" else "1")
    for header in (revoked, expired, {"Authorization": other}, {"Authorization": "Bearer x"}):
        answer = closed.get("/v1/players", headers=header)
        assert answer.status_code == 401
        assert answer.headers["www-authenticate"] == 'Bearer realm="swing", error="invalid_token"'
    assert closed.get("/v1/players").headers["www-authenticate"] == 'Bearer realm="swing"'
    basic = {"Authorization": good["Authorization"].replace("Bearer", "Basic")}
    assert closed.get("/v1/players", headers=basic).status_code == 401
    assert closed.get("/v1/players", headers=good).status_code == 200


def test_a_revoked_key_is_shut_out_once_what_was_remembered_of_it_is_old(
    closed: TestClient, records: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    prefix, header = _key(records)
    assert closed.get("/v1/players", headers=header).status_code == 200
    with records.writing() as session:
        keys.revoke(session, prefix)
    assert closed.get("/v1/players", headers=header).status_code == 200, "remembered"
    monkeypatch.setattr(remembered, "GOOD_FOR", 0.0)
    assert closed.get("/v1/players", headers=header).status_code == 401


def test_a_rotated_key_is_good_for_a_while_beside_the_new_one(records: Database) -> None:
    prefix, _ = _key(records)
    with records.writing() as session:
        old = keys.find(session, prefix)
        new, _ = keys.rotate(session, prefix, timedelta(hours=1))
        aged = keys.find(session, prefix)
    assert old is not None
    assert aged is not None
    assert (new.academy_id, new.scopes, new.expires) == (old.academy_id, old.scopes, old.expires)
    assert aged.expires is not None
    assert timedelta(minutes=59) < aged.expires - new.created <= timedelta(hours=1)


def test_the_database_holds_no_key(records: Database, tmp_path: Path) -> None:
    _, header = _key(records)
    secret = header["Authorization"].rpartition("_")[2].encode()
    assert not any(secret in file.read_bytes() for file in tmp_path.iterdir())


def test_keys_are_not_looked_up_for_every_request(
    closed: TestClient, records: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, header = _key(records)
    assert closed.get("/v1/players", headers=header).status_code == 200
    monkeypatch.setattr(keys, "find", pytest.fail)
    assert closed.get("/v1/players", headers=header).status_code == 200


def test_analysing_goes_on_with_a_known_key_while_the_database_is_away(
    closed: TestClient, records: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, header = _key(records)
    assert closed.post(ANALYZE, json=clip(), headers=header).status_code == 200

    def away(*_: object) -> None:
        raise RecordsUnavailable("away")

    monkeypatch.setattr(remembered, "GOOD_FOR", 0.0)
    monkeypatch.setattr(keys, "find", away)
    assert closed.post(ANALYZE, json=clip(), headers=header).status_code == 200
    _, unknown = _key(records)
    answer = closed.post(ANALYZE, json=clip(), headers=unknown)
    assert (answer.status_code, answer.json()["type"]) == (503, "/problems/records-unavailable")


@pytest.mark.parametrize("scope", KeyScope)
def test_while_nobody_can_say_whether_there_are_keys_analysing_alone_is_open(
    records: Database, monkeypatch: pytest.MonkeyPatch, scope: KeyScope
) -> None:
    def away(*_: object) -> None:
        raise RecordsUnavailable("away")

    monkeypatch.setattr(keys, "any_made", away)
    door = Door(Settings(), records)
    if scope is KeyScope.ANALYSE:
        assert anyio.run(door.admit, None, scope) == Bearer()
    else:
        with pytest.raises(ProblemError) as refused:
            anyio.run(door.admit, None, scope)
        assert refused.value.kind.status == 503


def test_what_is_remembered_stands_in_for_the_database_for_a_while_only(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clock, found = [1000.0], ["a key"]

    def look_up(_: str) -> str:
        if not found:
            raise RecordsUnavailable("away")
        return found[0]

    monkeypatch.setattr(remembered, "time", SimpleNamespace(monotonic=lambda: clock[0]))
    kept = Remembered(look_up)
    assert anyio.run(kept.get, "it") == "a key"
    found.clear()
    clock[0] += remembered.STANDS_FOR - 1.0
    assert anyio.run(kept.get, "it") == "a key"
    clock[0] += 2.0
    with pytest.raises(RecordsUnavailable):
        anyio.run(kept.get, "it")


def test_guesses_at_names_do_not_have_what_was_found_forgotten(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(remembered, "_MOST", 2)
    kept = Remembered(lambda name: name if name == "real" else None)
    assert anyio.run(kept.get, "real") == "real"
    for guess in ("a", "b", "c"):
        assert anyio.run(kept.get, guess) is None
    assert kept.recall("real") == "real"


def test_a_database_that_hangs_is_waited_for_but_a_moment(
    closed: TestClient, records: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, header = _key(records)
    leave, asked = threading.Event(), []

    def hang(_: object, prefix: str) -> None:
        asked.append(prefix)
        leave.wait(20)

    monkeypatch.setattr(remembered, "_PATIENCE", 0.05)
    monkeypatch.setattr(remembered, "_LET_REST", 60.0)
    monkeypatch.setattr(keys, "find", hang)
    try:
        answers = [closed.get("/v1/players", headers=header).status_code for _ in range(5)]
    finally:
        leave.set()
    assert answers == [503] * 5
    assert len(asked) == 1, "and not asked again at once"


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.4", "swing.example"])
def test_where_others_reach_it_the_service_starts_only_with_a_key_or_when_told_to_be_open(
    url: str, records: Database, host: str
) -> None:
    with (
        pytest.raises(NobodyCouldEnter, match=r"keys create.*SWING_OPEN=true"),
        TestClient(create_app(Settings(database_url=url, host=host))),
    ):
        pass
    with TestClient(create_app(Settings(database_url=url, host=host, open=True))) as client:
        assert client.get("/v1/players").status_code == 200
    _, header = _key(records)
    with TestClient(create_app(Settings(database_url=url, host=host))) as client:
        assert client.get("/v1/players").status_code == 401
        assert client.get("/v1/players", headers=header).status_code == 200


def test_the_command_says_in_plain_words_why_it_does_not_start(
    url: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SWING_DATABASE_URL", url)
    assert main(["serve", "--host", "0.0.0.0", "--port", "0"]) == 2
    said = capsys.readouterr().err.splitlines()[-1]
    assert said.startswith("0.0.0.0 can be reached from elsewhere and there is no key yet")


def test_addresses_that_only_this_machine_reaches_are_told_from_others() -> None:
    assert all(map(on_loopback, ("127.0.0.1", "127.3.2.1", "::1", "[::1]", "localhost")))
    assert not any(map(on_loopback, ("0.0.0.0", "::", "10.0.0.1", "localhost.example", "")))
