"""A process killed while it writes leaves the database whole."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sqlalchemy import func, select

from service.records import Database
from service.records.keeping import swings
from service.records.tables import AnalysisRow, FindingRow, SwingRow
from service.use_cases.history import swings_by_lesson
from tests.records.kept import keep, keep_lesson, keep_player, rows_in, swing_body

ROOT = Path(__file__).parents[3]

STOPS_BEFORE_COMMIT = """
import sys, time
from datetime import UTC, datetime
from service.records import (Database, Provenance, NewSwing, Role)
from service.records.keeping import swings
from tests.records.kept import RULES
url, lesson, file = sys.argv[1:]
body = open(file, "rb").read()
done = RULES.analyse_body(body)
new = NewSwing(datetime.now(UTC), Role.OTHER, None, body)
with Database(url).writing() as session:
    for _ in range(20):
        swings.add(session, lesson, new, done.analysis, Provenance("crash", None))
    print("written, not committed", flush=True)
    time.sleep(60)
"""

NEVER_STOPS = """
import sys
from service.use_cases.keep import KeepSwing, keep_swing
from service.records import Database
from tests.records.kept import RULES
url, lesson, file = sys.argv[1:]
database, body = Database(url), open(file, "rb").read()
while True:
    kept = keep_swing(database, RULES, KeepSwing(lesson, body))
    print(kept.meta.id, flush=True)
"""


def _start(program: str, database_url: str, lesson: str, tmp_path: Path) -> subprocess.Popen[str]:
    file = tmp_path / "request.json"
    file.write_bytes(swing_body())
    return subprocess.Popen(
        [sys.executable, "-c", program, database_url, lesson, str(file)],
        cwd=ROOT,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
        stdout=subprocess.PIPE,
        text=True,
    )


def _kill(process: subprocess.Popen[str]) -> list[str]:
    """Kill a process with no chance to tidy up; what it had said is returned."""
    process.send_signal(signal.SIGKILL)
    out, _ = process.communicate(timeout=60)
    assert process.returncode == -signal.SIGKILL
    return out.split()


def _assert_sound(database: Database, url: str) -> None:
    """The file is sound, and every row has all that belongs to it."""
    if url.startswith("sqlite"):
        with sqlite3.connect(url.removeprefix("sqlite:///")) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    with database.reading() as session:
        pairs = select(func.count()).select_from(SwingRow).join(AnalysisRow)
        assert session.scalar(pairs) == rows_in(database, SwingRow)


def test_what_was_not_committed_when_the_process_was_killed_is_not_there(
    database: Database, database_url: str, tmp_path: Path
) -> None:
    lesson = keep_lesson(database, keep_player(database))
    keep(database, lesson)
    before = [rows_in(database, table) for table in (SwingRow, AnalysisRow, FindingRow)]
    process = _start(STOPS_BEFORE_COMMIT, database_url, lesson.id, tmp_path)
    assert process.stdout is not None
    assert process.stdout.readline() == "written, not committed\n"
    _kill(process)
    _assert_sound(database, database_url)
    assert [rows_in(database, table) for table in (SwingRow, AnalysisRow, FindingRow)] == before
    keep(database, lesson)
    assert rows_in(database, SwingRow) == before[0] + 1, "others write on as if nothing was"


@pytest.mark.parametrize("moment", [0.05, 0.13])
def test_whatever_was_confirmed_before_a_process_was_killed_is_there_and_whole(
    database: Database, database_url: str, tmp_path: Path, moment: float
) -> None:
    lesson = keep_lesson(database, keep_player(database))
    process = _start(NEVER_STOPS, database_url, lesson.id, tmp_path)
    assert process.stdout is not None
    confirmed = [process.stdout.readline().strip() for _ in range(3)]
    time.sleep(moment)
    confirmed += _kill(process)
    _assert_sound(database, database_url)
    with database.reading() as session:
        (kept,) = swings_by_lesson(session, [lesson])
        stored = {swing.id: swing for swing in kept}
        bodies = swings.requests_of(session, list(stored))
    assert stored.keys() >= set(confirmed)
    assert len(stored) <= len(confirmed) + 1, "one may have been kept but not yet confirmed"
    assert set(bodies.values()) == {swing_body()}
    assert rows_in(database, FindingRow) == sum(len(s.analysis.findings) for s in stored.values())
