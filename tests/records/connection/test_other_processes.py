"""Another process that opens a SQLite database, and leaves it, while this one goes on with it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from service.records import Database, upgrade
from service.records.connection.readiness import DatabaseProbe
from service.records.keeping import players

COUNT = """
import sqlite3, sys
database = sqlite3.connect(sys.argv[1])
print(database.execute("SELECT count(*) FROM player").fetchone()[0])
database.close()
"""


def test_what_is_kept_after_another_process_has_come_and_gone_is_in_the_database(
    tmp_path: Path,
) -> None:
    file = tmp_path / "records.db"
    database = Database(f"sqlite:///{file}")
    upgrade(database)
    with database.reading() as one, database.reading() as another:  # two connections of the pool
        one.connection()
        another.connection()
    DatabaseProbe(f"sqlite:///{file}")()
    assert _counted_elsewhere(file) == 0
    assert {each.name for each in tmp_path.iterdir()} >= {"records.db-wal", "records.db-shm"}
    with database.writing() as session:
        players.add(session, "Ada")
    assert _counted_elsewhere(file) == 1
    database.close()


def test_a_command_on_a_sqlite_file_does_not_wait_for_the_driver_of_postgresql() -> None:
    code = "import sys, service.records; print('psycopg' in sys.modules)"
    assert _printed(code) == "False"


def _counted_elsewhere(file: Path) -> int:
    return int(_printed(COUNT, str(file)))


def _printed(code: str, *arguments: str) -> str:
    command = [sys.executable, "-c", code, *arguments]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()
