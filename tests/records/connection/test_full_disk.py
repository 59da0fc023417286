"""A SQLite database on a disk that is full: what is said, and what is not lost."""

from __future__ import annotations

import logging
import shutil
import sqlite3
from collections import namedtuple
from pathlib import Path

import pytest
from sqlalchemy import create_engine, exc

from service.records import Database, RecordsUnavailable, upgrade
from service.records.connection.database import _unconfirmed
from service.records.connection.readiness import DatabaseProbe
from service.records.connection.sqlite_files import WriteAheadLog
from service.records.errors import PerhapsWritten

Usage = namedtuple("Usage", "total used free")


def _failed(name: str) -> exc.OperationalError:
    error = sqlite3.OperationalError("database or disk is full")
    error.sqlite_errorname = name
    return exc.OperationalError("COMMIT", {}, error)


def test_a_change_for_which_there_is_no_room_is_known_not_to_be_made() -> None:
    with pytest.raises(exc.OperationalError), _unconfirmed():
        raise _failed("SQLITE_FULL")
    with pytest.raises(PerhapsWritten), _unconfirmed():
        raise _failed("SQLITE_IOERR")


def test_a_log_that_can_not_be_folded_in_is_left_for_later(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    file = tmp_path / "records.db"
    with sqlite3.connect(file) as writer:
        writer.execute("PRAGMA journal_mode = wal")
        writer.execute("CREATE TABLE kept (id)")
    engine = create_engine(
        "sqlite://", creator=lambda: sqlite3.connect(f"file:{file}?mode=ro", uri=True)
    )
    log = WriteAheadLog(engine)
    with sqlite3.connect(file) as writer, caplog.at_level(logging.WARNING):
        writer.execute("INSERT INTO kept VALUES (1)")
        writer.commit()
        log.fold_in()
        log.close()
        assert "was not folded in" in caplog.text
    engine.dispose()


def test_a_disk_without_room_is_not_ready_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = f"sqlite:///{tmp_path}/records.db"
    database = Database(url)
    upgrade(database)
    database.close()
    probe = DatabaseProbe(url)
    assert probe() == "can be read and written"
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Usage(10**9, 10**9, 1_000_000))
    with pytest.raises(RecordsUnavailable, match=r"is full: 1\.0 MB are left"):
        probe()
