"""Deleted means gone, and the files of the records are the owner's alone."""

from __future__ import annotations

import sqlite3
import stat
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.analysis.types import CoachVerdict
from service.app import create_app
from service.records import Database, Precondition
from service.records.reviews import findings
from service.records.reviews.entities import NewReview
from service.settings import Settings
from tests.records.kept import keep, keep_lesson, keep_player, swing_body
from tests.waiting import until

MARK = "unmistakable-3f9d"
BUSY = 10.0
"""Seconds for which whoever waits for others of SQLite does so."""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "a folder" / "records.db"


@pytest.fixture
def client(file: Path) -> Iterator[TestClient]:
    with TestClient(create_app(Settings(database_url=f"sqlite:///{file}"))) as client:
        yield client


def _kept(client: TestClient) -> tuple[str, str, str]:
    """Ids of a player, a lesson and a swing that bear the mark."""
    records: Database = client.app.state.records
    player = keep_player(records, MARK)
    lesson = keep_lesson(records, player)
    swing = keep(records, lesson, swing_body(reference=MARK))
    review = NewReview(CoachVerdict.REJECT, "Bo", note=MARK)
    with records.writing() as session:
        findings.put(session, swing.id, "chest_stall", review, Precondition())
    return player.id, lesson.id, swing.id


def _stands_in(file: Path) -> list[str]:
    """Names of the files in which the mark stands."""
    return [f.name for f in file.parent.iterdir() if MARK.encode() in f.read_bytes()]


def _wait_until_gone(file: Path) -> None:
    until(lambda: not _stands_in(file))


def _delete_player(client: TestClient, ids: tuple[str, str, str]) -> None:
    assert client.delete(f"/v1/players/{ids[0]}").status_code == 204


def _delete_swing_and_name(client: TestClient, ids: tuple[str, str, str]) -> None:
    assert client.delete(f"/v1/swings/{ids[2]}").status_code == 204
    _rename(client, ids)


def _delete_lesson_and_name(client: TestClient, ids: tuple[str, str, str]) -> None:
    assert client.delete(f"/v1/lessons/{ids[1]}").status_code == 204
    _rename(client, ids)


def _rename(client: TestClient, ids: tuple[str, str, str]) -> None:
    """Take the mark from the player, whose name a deleted swing or lesson leaves."""
    path = f"/v1/players/{ids[0]}"
    etag = client.get(path).headers["etag"]
    assert client.patch(path, json={"name": "x"}, headers={"If-Match": etag}).status_code == 200


def _change_notes(client: TestClient, ids: tuple[str, str, str]) -> None:
    """Put other words in the place of those that bear the mark."""
    for path in (f"/v1/players/{ids[0]}", f"/v1/lessons/{ids[1]}"):
        field = "note" if "players" in path else "coach_note"
        for words in (MARK, "nothing of note"):
            sent = {"json": {field: words}, "headers": {"If-Match": "*"}}
            assert client.patch(path, **sent).status_code == 200
    _rename(client, ids)
    assert client.delete(f"/v1/swings/{ids[2]}").status_code == 204


DELETIONS = [_delete_player, _delete_swing_and_name, _delete_lesson_and_name, _change_notes]


@pytest.mark.parametrize("delete", DELETIONS)
def test_nothing_of_what_was_deleted_stands_in_any_file(
    client: TestClient, file: Path, delete: Callable[[TestClient, tuple[str, str, str]], None]
) -> None:
    ids = _kept(client)
    assert _stands_in(file)
    delete(client, ids)
    _wait_until_gone(file)  # at once, or when what the audit writes beside it is written


def test_a_reader_beside_it_puts_that_off_and_does_not_prevent_it(
    client: TestClient, file: Path
) -> None:
    ids = _kept(client)
    reader = sqlite3.connect(file, isolation_level=None)
    reader.execute("BEGIN")
    assert reader.execute("SELECT count(*) FROM player").fetchone() == (1,)
    begin = time.monotonic()
    _delete_player(client, ids)
    assert time.monotonic() - begin < BUSY / 2, "deleting does not wait for readers"
    assert _stands_in(file), "the reader still sees the state before"
    reader.execute("COMMIT")
    _wait_until_gone(file)  # with the reader still connected, but done
    reader.close()


def test_what_a_killed_process_left_in_the_log_is_gone_after_the_next_start(file: Path) -> None:
    url = f"sqlite:///{file}"
    with TestClient(create_app(Settings(database_url=url))) as client:
        _kept(client)
        other = sqlite3.connect(file)  # keeps the log from being removed with the last connection
        other.execute("PRAGMA secure_delete = ON")
        other.execute("PRAGMA foreign_keys = ON")
        assert other.execute("DELETE FROM player").rowcount == 1
        other.commit()
        assert _stands_in(file)
        with TestClient(create_app(Settings(database_url=url))):
            assert _stands_in(file) == []
        other.close()


def test_the_files_and_their_folder_are_the_owner_s_alone(client: TestClient, file: Path) -> None:
    _kept(client)
    modes = {f.name: stat.S_IMODE(f.stat().st_mode) for f in file.parent.iterdir()}
    assert {"records.db", "records.db-wal", "records.db-shm"} <= modes.keys()
    assert set(modes.values()) == {0o600}
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700


def test_a_file_that_others_could_read_is_closed_to_them(tmp_path: Path) -> None:
    file = tmp_path / "records.db"
    file.touch(0o644)
    with TestClient(create_app(Settings(database_url=f"sqlite:///{file}"))):
        assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_records_are_kept_in_a_folder_of_their_own_when_not_told_where(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv("SWING_DATABASE_URL")
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    expected = tmp_path / ".swing-fault-service" / "records.db"
    assert Settings().database_url == f"sqlite:///{expected}"
