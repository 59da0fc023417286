"""Allowances are counted for all processes together."""

from __future__ import annotations

import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from service.records import RecordsUnavailable
from service.records.access import rates
from service.records.access.rates import WINDOW, Rates

SLACK = 10.0
"""Seconds that counting a few may take on a busy machine."""

ONE_PROCESS = """
import sys
from service.records.access.rates import Rates
rates = Rates(sys.argv[1])
print(sum(rates.count("somebody", 40).wait == 0 for _ in range(30)))
"""


def test_as_many_are_let_through_as_are_allowed_and_no_more(database_url: str) -> None:
    counts = Rates(database_url)
    counted = [counts.count("ada", 5) for _ in range(7)]
    assert [c.wait == 0 for c in counted] == [True] * 5 + [False] * 2
    assert [c.remaining for c in counted] == [4, 3, 2, 1, 0, 0, 0]
    assert WINDOW / 5 - SLACK < counted[-1].wait <= WINDOW / 5, "until one more is allowed"
    assert WINDOW - SLACK < counted[-1].restored_in <= WINDOW
    assert counts.count("bo", 5).wait == 0, "each has an allowance of its own"


def test_what_is_turned_away_costs_nothing(database_url: str) -> None:
    counts = Rates(database_url)
    turned_away = [c for c in (counts.count("ada", 10) for _ in range(40)) if c.wait > 0]
    assert len(turned_away) >= 20
    assert all(c.wait <= WINDOW / 10 for c in turned_away), "and none has to wait the longer"


def test_threads_and_processes_share_one_allowance(database_url: str) -> None:
    begin = time.monotonic()
    running = [
        subprocess.Popen(
            [sys.executable, "-c", ONE_PROCESS, database_url], stdout=subprocess.PIPE, text=True
        )
        for _ in range(2)
    ]
    let_through = sum(int(process.communicate(timeout=120)[0]) for process in running)
    meanwhile = (time.monotonic() - begin) * 40 / WINDOW
    assert 40 <= let_through <= 41 + meanwhile, "forty at once, and one each 1.5 s"
    counts = Rates(database_url)
    begin = time.monotonic()
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: counts.count("another", 20).wait == 0, range(40)))
    meanwhile = (time.monotonic() - begin) * 20 / WINDOW
    assert 20 <= sum(found) <= 21 + meanwhile


def test_counts_that_can_not_be_reached_are_said_to_be_away(tmp_path: Path) -> None:
    for url in (
        f"sqlite:///{tmp_path}/no/such/folder/records.db",
        "postgresql+psycopg://nobody@127.0.0.1:1/none",
    ):
        with pytest.raises(RecordsUnavailable):
            Rates(url).count("ada", 5)


def test_counts_stand_beside_the_records_and_are_the_owners_alone(tmp_path: Path) -> None:
    Rates(f"sqlite:///{tmp_path}/records.db").count("ada", 5)
    files = {file.name: file.stat().st_mode & 0o777 for file in tmp_path.iterdir()}
    assert "records.allowances" in files
    assert set(files.values()) == {0o600}
    assert rates.seconds(0.1) == 1
