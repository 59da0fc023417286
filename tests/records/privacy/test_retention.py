"""What is kept for long enough is deleted, and backups bring back what was kept."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import select, update

from service.__main__ import main
from service.records import Behalf, Database, Window, upgrade
from service.records.access import academies, audit
from service.records.batches import batches
from service.records.batches.entities import NewBatch
from service.records.batches.tables import BatchRow
from service.records.errors import BackupFailed
from service.records.keeping import players
from service.records.privacy import backup as backups
from service.records.privacy.backup import back_up, restore
from service.records.privacy.retention import Purged, Retention, purge
from service.records.tables import AuditRow, LessonRow, PlayerRow, SwingRow
from tests.records.kept import keep, keep_lesson, keep_player, still_body

A_YEAR = Retention(timedelta(days=365), timedelta(days=730), timedelta(hours=24))
LONG_AGO = datetime.now(UTC) - timedelta(days=400)


def _age(database: Database, row: type[PlayerRow | LessonRow | SwingRow], record_id: str) -> None:
    with database.writing() as session:
        session.execute(update(row).where(row.id == record_id).values(created=LONG_AGO))


def _names(database: Database) -> list[str]:
    with database.reading() as session:
        return [player.name for player in players.fetch_page(session, Window(100)).items]


def _keep_old(database: Database, name: str, *, young_swing: bool) -> None:
    player = keep_player(database, name)
    lesson = keep_lesson(database, player)
    swing = keep(database, lesson, still_body())
    if young_swing:
        keep(database, lesson, still_body())
    _age(database, PlayerRow, player.id)
    _age(database, LessonRow, lesson.id)
    _age(database, SwingRow, swing.id)


def test_what_is_old_goes_in_every_academy_and_what_is_young_keeps_what_it_belongs_to(
    database: Database,
) -> None:
    with database.writing() as session:
        north = database.on_behalf(Behalf(academies.add(session, "North").id))
    for each in (database, north):
        _keep_old(each, "old", young_swing=False)
        _keep_old(each, "half old", young_swing=True)
        keep_player(each, "new")
    expected = Purged(swings=4, lessons=2, players=2)
    assert purge(database, A_YEAR, dry_run=True) == expected
    assert _names(north) == ["old", "half old", "new"], "a dry run deletes nothing"
    assert purge(database, A_YEAR) == expected
    assert _names(database) == _names(north) == ["half old", "new"]
    assert purge(database, A_YEAR) == Purged()
    with north.reading() as session:
        entries = audit.fetch_page(session, Window(100)).items
    assert {entry.route for entry in entries} == {"python -m service purge"}
    assert sum(len(entry.swing_ids) for entry in entries) == 2


def test_batches_that_are_over_for_long_enough_go_and_others_stay(database: Database) -> None:
    ids = []
    for end in (batches.open_up, batches.open_up, None):
        with database.writing() as session:
            batch = batches.receive(session, NewBatch())
            if end is not None:
                end(session, batch.id, 0)
        ids.append(batch.id)
    with database.writing() as session:
        session.execute(update(BatchRow).where(BatchRow.id == ids[0]).values(finished=LONG_AGO))
    retention = Retention(None, None, timedelta(hours=24), batches=timedelta(days=30))
    assert purge(database, retention, dry_run=True) == Purged(batches=1)
    assert purge(database, retention) == Purged(batches=1)
    with database.reading() as session:
        assert set(session.scalars(select(BatchRow.id))) == set(ids[1:])


def test_without_a_limit_people_are_kept_and_old_entries_of_the_audit_go(
    database: Database,
) -> None:
    _keep_old(database, "old", young_swing=False)
    caller = audit.Caller(None, "r", "POST", "/v1/players")
    with database.on_behalf(Behalf(caller=caller)).writing() as session:
        players.add(session, "new")
    for_ever = Retention(None, None, timedelta(hours=24))
    assert purge(database, for_ever) == Purged()
    kept_for_no_time = Retention(None, timedelta(0), timedelta(hours=24))
    assert purge(database, kept_for_no_time) == Purged(audit=1)
    assert _names(database) == ["old", "new"]


def test_the_purge_command_counts_and_says_when_no_limit_is_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SWING_DATABASE_URL", f"sqlite:///{tmp_path / 'records.db'}")
    assert main(["migrate"]) == 0
    assert main(["purge", "--dry-run"]) == 0
    assert "SWING_RETENTION_DAYS is 0" in capsys.readouterr().out
    monkeypatch.setenv("SWING_RETENTION_DAYS", "365")
    assert main(["purge"]) == 0
    assert capsys.readouterr().out.splitlines()[:2] == ["deleted:", "  swings 0"]


def test_a_backup_brings_back_what_was_kept_in_every_academy(
    database_url: str, database: Database, tmp_path: Path
) -> None:
    with database.writing() as session:
        north = database.on_behalf(Behalf(academies.add(session, "North").id))
    for each in (database, north):
        keep(each, keep_lesson(each, keep_player(each)), still_body())
    file = tmp_path / "backup"
    back_up(database_url, file)
    assert file.stat().st_mode & 0o777 == 0o600
    assert [f.name for f in tmp_path.glob("backup*")] == ["backup"], "and nothing beside it"
    keep_player(north, "kept later")
    with pytest.raises(BackupFailed, match="--replace"):
        restore(database_url, file)
    database.close()
    restore(database_url, file, replace=True)
    assert _names(north) == _names(database) == ["Ada Fairway"]
    with north.reading() as session:
        assert audit.fetch_page(session, Window(10)).items == ()
    keep_player(database, "kept after")


def test_a_backup_fills_an_empty_database(
    database: Database, database_url: str, empty_database_url: str, tmp_path: Path
) -> None:
    keep_player(database)
    back_up(database_url, tmp_path / "backup")
    restore(empty_database_url, tmp_path / "backup")
    other = Database(empty_database_url)
    assert _names(other) == ["Ada Fairway"]
    upgrade(other)
    other.close()


def test_a_role_that_row_level_security_binds_backs_up_every_academy(
    keyed_url: str, tmp_path: Path
) -> None:
    database = Database(keyed_url)
    upgrade(database)
    with database.writing() as session:
        north = database.on_behalf(Behalf(academies.add(session, "North").id))
    keep_player(north)
    back_up(keyed_url, tmp_path / "backup")
    database.close()
    restore(keyed_url, tmp_path / "backup", replace=True)
    assert _names(north) == ["Ada Fairway"]
    database.close()


def _no_database(file: Path) -> None:
    file.write_bytes(b"no database")


def _of_another_program(file: Path) -> None:
    with sqlite3.connect(file) as connection:
        connection.execute("CREATE TABLE note (text)")
    connection.close()


@pytest.mark.parametrize("make", [_no_database, _of_another_program])
def test_what_is_no_backup_is_refused_and_nothing_lost(
    database: Database, database_url: str, tmp_path: Path, make: Callable[[Path], None]
) -> None:
    keep_player(database)
    make(tmp_path / "other")
    with pytest.raises(BackupFailed):
        restore(database_url, tmp_path / "other", replace=True)
    with pytest.raises(BackupFailed, match="no file"):
        restore(database_url, tmp_path / "nowhere", replace=True)
    assert _names(database) == ["Ada Fairway"]


def test_without_postgresqls_programs_a_backup_says_what_is_missing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(backups, "_WHERE", tmp_path)
    with pytest.raises(BackupFailed, match="pg_dump is not installed"):
        back_up("postgresql+psycopg://nobody@127.0.0.1:1/none", tmp_path / "backup")
    assert list(tmp_path.iterdir()) == []


def test_the_commands_back_up_and_restore(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SWING_DATABASE_URL", f"sqlite:///{tmp_path / 'records.db'}")
    assert main(["academies", "create", "North"]) == 0
    assert main(["backup", str(tmp_path / "backup.db")]) == 0
    monkeypatch.setenv("SWING_DATABASE_URL", f"sqlite:///{tmp_path / 'other.db'}")
    assert main(["restore", str(tmp_path / "backup.db")]) == 0
    capsys.readouterr()
    assert main(["academies", "list"]) == 0
    assert [line.split()[-1] for line in capsys.readouterr().out.splitlines()] == [
        "default",
        "North",
    ]
    assert main(["restore", str(tmp_path / "nowhere")]) == 2
    assert "there is no file" in capsys.readouterr().err


def test_old_audit_rows_are_the_only_ones_deleted(database: Database) -> None:
    caller = audit.Caller(None, "r", "POST", "/v1/players")
    with database.on_behalf(Behalf(caller=caller)).writing() as session:
        players.add(session, "new")
    assert purge(database, A_YEAR) == Purged()
    with database.reading() as session:
        assert session.query(AuditRow).count() == 1
