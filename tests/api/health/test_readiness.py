from __future__ import annotations

import sqlite3
import threading
import time
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.analysis.types import SwingAnalysis, SwingRecording
from service.api.health import readiness
from service.api.health.readiness import Readiness, Remembered
from service.app import create_app
from service.records import Database, upgrade
from service.records.errors import PerhapsWritten
from service.records.keeping import players
from service.settings import Settings
from service.use_cases import analyse as analysis
from tests.waiting import until

HANGS = 20.0
"""Seconds after which a check that hangs would come back by itself."""
LONGEST = readiness.LONGEST


@pytest.fixture(autouse=True)
def _a_busy_machine_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(readiness, "LONGEST", HANGS / 4)


def _fail(recording: SwingRecording, _model: object = None) -> SwingAnalysis:
    raise RuntimeError("secret detail")


def _checks(client: TestClient) -> dict[str, str]:
    answer = client.get("/readyz")
    assert answer.status_code == 200, answer.text
    return {check["name"]: check["detail"] for check in answer.json()["checks"]}


def _not_ready(client: TestClient) -> str:
    begin = time.monotonic()
    answer = client.get("/readyz")
    assert time.monotonic() - begin < HANGS / 2
    assert (answer.status_code, answer.json()["type"]) == (503, "/problems/not-ready")
    assert client.get("/healthz").status_code == 200
    return str(answer.json()["detail"])


def _client(file: Path | str, **settings: object) -> TestClient:
    return TestClient(create_app(Settings(database_url=f"sqlite:///{file}", **settings)))


def test_the_service_is_ready_when_its_checks_pass(client: TestClient) -> None:
    found = _checks(client)
    assert set(found) == {"catalogue", "analysis", "model"}
    assert found["analysis"] == "2 known swings were found"


def test_the_service_says_which_model_it_serves(client: TestClient) -> None:
    version = client.get("/v1/model").json()["version"]
    assert f"version {version} estimates" in _checks(client)["model"]


def test_a_failing_analysis_keeps_the_service_from_being_ready(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(analysis, "analyse", _fail)
    with TestClient(create_app(Settings())) as client:
        said = _not_ready(client)
    assert "analysis (failed; the log says how)" in said


def test_a_good_database_is_told(keeper: TestClient) -> None:
    assert _checks(keeper)["database"].startswith("can be read and written")


def test_a_database_without_tables_is_told(tmp_path: Path) -> None:
    sqlite3.connect(tmp_path / "empty.db").execute("CREATE TABLE x (y)").close()
    client = _client(tmp_path / "empty.db", migrate_on_start=False)
    assert "lacks the tables" in _not_ready(client)


def test_a_database_that_is_gone_is_told(tmp_path: Path) -> None:
    with _client(tmp_path / "records.db") as client:
        assert _checks(client)["database"] == "can be read and written"
        (tmp_path / "records.db").unlink()
        assert "not there" in _not_ready(client)


def test_a_database_that_is_moved_away_takes_nothing_until_it_is_back(tmp_path: Path) -> None:
    file, away = tmp_path / "records.db", tmp_path / "away.db"
    with _client(file) as client:
        kept = client.post("/v1/players", json={"name": "Ada"}).headers["location"]
        file.rename(away)
        for answer in (client.post("/v1/players", json={"name": "Bea"}), client.get(kept)):
            assert (answer.status_code, answer.headers["retry-after"]) == (503, "5")
            assert answer.json()["type"] == "/problems/records-unavailable"
        assert not file.exists(), "an empty database would hide that the records are gone"
        away.rename(file)
        assert client.get(kept).json()["name"] == "Ada"
        assert client.post("/v1/players", json={"name": "Cleo"}).status_code == 201
    with _client(file) as client:
        names = [player["name"] for player in client.get("/v1/players").json()["items"]]
    assert names == ["Ada", "Cleo"]


def test_another_file_in_the_place_of_the_database_is_not_taken_for_it(tmp_path: Path) -> None:
    file, other = tmp_path / "records.db", tmp_path / "other.db"
    with _client(other) as client:
        client.post("/v1/players", json={"name": "Ada"})
    with _client(file) as client:
        client.post("/v1/players", json={"name": "Bea"})
        assert client.get("/readyz").status_code == 200
        other.replace(file)
        assert client.post("/v1/players", json={"name": "Cleo"}).status_code == 503
        assert "another file has taken the place of the database" in _not_ready(client)
    file.with_name("records.db-wal").unlink(missing_ok=True)
    with _client(file) as client:
        names = [player["name"] for player in client.get("/v1/players").json()["items"]]
    assert names == ["Ada"]


def test_a_change_after_which_the_database_is_elsewhere_is_not_said_to_be_kept(
    tmp_path: Path,
) -> None:
    file = tmp_path / "records.db"
    database = Database(f"sqlite:///{file}")
    upgrade(database)

    def keep_while_it_is_moved() -> None:
        with database.writing() as session:
            players.add(session, "Ada")
            file.rename(tmp_path / "away.db")

    with pytest.raises(PerhapsWritten):
        keep_while_it_is_moved()
    database.close()


def test_a_service_that_is_not_ready_says_when_to_ask_again(tmp_path: Path) -> None:
    (tmp_path / "records.db").write_bytes(b"no database at all " * 1000)
    with _client(tmp_path / "records.db") as client:
        for path in ("/readyz", "/v1/players"):
            answer = client.get(path)
            assert (answer.status_code, answer.headers["retry-after"]) == (503, "5"), path


def test_a_database_that_takes_no_writes_is_told(tmp_path: Path) -> None:
    with _client(tmp_path / "records.db") as client:
        _checks(client)
    read_only = f"file:{tmp_path / 'records.db'}?mode=ro&uri=true"
    client = _client(read_only, migrate_on_start=False)
    assert "readonly" in _not_ready(client)


def test_a_corrupt_database_is_told_and_is_no_error_of_the_service(tmp_path: Path) -> None:
    file = tmp_path / "records.db"
    file.write_bytes(b"no database at all " * 1000)
    with _client(file) as client:
        assert "is no SQLite database, or damaged" in _not_ready(client)
        answer = client.get("/v1/players")
    assert (answer.status_code, answer.json()["type"]) == (503, "/problems/records-unavailable")


def test_a_server_that_can_not_be_reached_is_told() -> None:
    url = "postgresql+psycopg://nobody@127.0.0.1:9/none"
    client = TestClient(create_app(Settings(database_url=url, migrate_on_start=False)))
    assert "database (" in _not_ready(client)


def test_a_check_that_hangs_is_told_in_time_and_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(readiness, "LONGEST", LONGEST)
    leave = threading.Event()

    def hang() -> str:
        leave.wait(HANGS)
        return "at last"

    app = create_app(Settings())
    app.state.readiness = Readiness({"database": hang})
    try:
        with TestClient(app) as client:
            for _ in range(2):
                assert "no answer within 0.8 s" in _not_ready(client)
            leave.set()
            until(lambda: client.get("/readyz").status_code == 200)
            assert _checks(client) == {"database": "at last"}
    finally:
        leave.set()


def test_a_check_that_passed_stands_while_it_takes_long_to_make_anew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(readiness, "LONGEST", LONGEST)
    leave, slow, broken = threading.Event(), threading.Event(), threading.Event()

    def look() -> str:
        if slow.is_set():
            leave.wait(HANGS)
        if broken.is_set():
            raise readiness.Broken("it broke")
        return "well"

    monkeypatch.setattr(readiness, "GOOD_FOR", 0.0)
    app = create_app(Settings())
    app.state.readiness = Readiness({"analysis": Remembered(look)})
    try:
        with TestClient(app) as client:
            assert _checks(client) == {"analysis": "well"}
            slow.set()
            assert _checks(client) == {"analysis": "well"}
            monkeypatch.setattr(readiness, "STANDS_FOR", 0.0)
            assert "no answer within 0.8 s" in _not_ready(client)
            broken.set()
            leave.set()
            until(lambda: "it broke" in _not_ready(client))
    finally:
        leave.set()
