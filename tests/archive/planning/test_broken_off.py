"""Runs over a changing archive that are broken off: what counts is the old results or the new."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest

from service.archive import results as written
from service.archive import states
from service.archive.errors import NotSeen
from service.archive.planning.plan import Plan
from service.archive.results import finished_results
from service.use_cases.archive import tag as tagging
from service.use_cases.archive.summarise import summarise
from service.use_cases.archive.tag import TagArchive
from tests.archive.made import RULES_ONLY, ndjson, request, tag
from tests.archive.planning.changed import (
    edit,
    grow,
    make,
    numbered,
    shorten,
    unordered,
    watched,
)


class _Killed(BaseException):
    """As nothing in the code would catch it."""


def _kill_at(patch: pytest.MonkeyPatch, owner: Any, name: str, count: int) -> None:
    """Break off when something is called for the so many-th time."""
    whole, calls = getattr(owner, name), [count]

    def counted(*given: Any, **named: Any) -> Any:
        calls[0] -= 1
        if calls[0] < 0:
            raise _Killed
        return whole(*given, **named)

    patch.setattr(owner, name, counted)


STEPS = [
    (written.pq, "write_table"),  # half of a partition's tables are there
    (tagging, "write_part"),
    (tagging, "cut_part"),
    (states, "finish_plan"),  # all is there, and nothing of it counts yet
    (states.Path, "replace"),  # in the one step, or while it is put in place
    (states.Path, "unlink"),
    (states.shutil, "rmtree"),
]


def _change(folder: Path) -> None:
    grow(folder)
    edit(folder)
    (folder / "broken.json").unlink()


@pytest.fixture(scope="module")
def changed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Any, Any]:
    """Results of the archive changed once, and once more, each tagged at once."""
    folder = tmp_path_factory.mktemp("changed")
    archive = make(folder / "archive")
    _change(archive)
    once = _told(tag(archive, folder / "once"))
    shorten(archive)
    return once, unordered(tag(archive, folder / "twice"))


@pytest.mark.parametrize(
    ("step", "count"),
    [(0, 0), (0, 6), (1, 1), (2, 0), (3, 0), (4, 3), (4, 20), (5, 0), (6, 0), (6, 1)],
)
def test_a_kill_at_any_step_leaves_the_old_results_or_the_new_ones(
    archive: Path,
    tmp_path: Path,
    changed: tuple[Any, Any],
    monkeypatch: pytest.MonkeyPatch,
    step: int,
    count: int,
) -> None:
    out = tag(archive, tmp_path / "out", partition=2)
    before = _told(out)
    _change(archive)
    with monkeypatch.context() as patch:
        _kill_at(patch, *STEPS[step], count)
        try:
            tag(archive, out, partition=2)
        except _Killed:
            pass
        else:
            pytest.fail("it is not called so often")
    assert _told(out) in (before, changed[0])
    shorten(archive)
    tag(archive, out, partition=2)
    assert unordered(out) == changed[1]
    assert not list(out.glob("_state-*")), "nothing is left of what was broken off"
    assert not list(out.rglob(".part-*"))


def _told(out: Path) -> list[str]:
    """All that a reader of the results is told."""
    results = finished_results(out)
    tables = (results.parts(name) for name in ("swings", "findings", "measures", "errors"))
    return sorted(repr(row) for parts in tables for part in parts for row in part.to_pylist())


def test_what_was_killed_while_it_was_put_in_place_is_so_by_the_next_run_that_has_nothing_to_do(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tag(archive, tmp_path / "out", partition=2)
    grow(archive)
    with monkeypatch.context() as patch:
        _kill_at(patch, states, "_put_in_place", 1)
        with pytest.raises(_Killed):
            tag(archive, out, partition=2)
    (out / "_state-stray" / "swings").mkdir(parents=True)
    assert len(list(out.glob("_state-*"))) == 2
    tag(archive, out, partition=2)
    assert not list(out.glob("_state-*"))
    assert unordered(out) == unordered(tag(archive, tmp_path / "anew"))


def test_what_an_interrupted_run_had_done_of_a_changing_archive_is_not_done_again(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    with monkeypatch.context() as patch:
        _kill_at(patch, tagging, "write_part", 3)
        with pytest.raises(_Killed):
            tag(archive, out, partition=2)
    grow(archive)
    with watched(monkeypatch) as seen:
        tag(archive, out, partition=2)
    assert "later/new.json:0" in seen
    assert "broken.json:0" not in seen, "it was in the first partition"
    assert unordered(out) == unordered(tag(archive, tmp_path / "anew"))


def test_lines_that_an_interrupted_run_had_done_are_not_done_again_once_there_are_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive, out = tmp_path / "lines", tmp_path / "out"
    archive.mkdir()
    (archive / "a.ndjson").write_bytes(ndjson(*map(numbered, range(6))))
    with monkeypatch.context() as patch:
        _kill_at(patch, tagging, "write_part", 1)
        with watched(patch) as before, pytest.raises(_Killed):
            tag(archive, out, partition=2)
    written_aside = set(before[:2])
    assert written_aside == {"a.ndjson:0", "a.ndjson:1"}
    with (archive / "a.ndjson").open("ab") as file:
        file.write(ndjson(numbered(6)))
    with watched(monkeypatch) as seen:
        tag(archive, out, partition=2)
    assert "a.ndjson:6" in seen
    assert not written_aside & set(seen)
    assert unordered(out) == unordered(tag(archive, tmp_path / "anew"))


def test_a_worker_that_outlives_its_command_and_plan_writes_nothing(
    archive: Path, tmp_path: Path
) -> None:
    out = tag(archive, tmp_path / "out")
    plan = Plan(out, finished_results(out).plan.header, is_finished=True)
    job = tagging.job_of(
        plan, tagging.reading_of(TagArchive(archive, out, {}), RULES_ONLY), RULES_ONLY, 0
    )
    with pytest.raises(NotSeen):
        tagging.tag_partition(job)
    assert not list(out.glob("_state-*"))


def test_what_changes_while_a_run_is_broken_off_adds_up_to_one_change_of_the_results(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(3, 9):
        (archive / f"more-{number}.json").write_text(json.dumps(numbered(number)))
    out = tag(archive, tmp_path / "out", partition=2)
    before = finished_results(out).plan.header
    assert not any(before.changes.values()), "nothing has changed since nothing was there"
    (archive / "two.json").unlink()
    with monkeypatch.context() as patch:
        _kill_at(patch, states, "finish_plan", 0)
        with pytest.raises(_Killed):
            tag(archive, out, partition=2)
    for number in range(3, 6):
        (archive / f"more-{number}.json").unlink()
    (archive / "new.json").write_text(json.dumps(numbered(9)))
    tag(archive, out, partition=2)
    plan = finished_results(out).plan
    assert plan.header.changes == {"added": 1, "changed": 0, "gone": 4}
    assert plan.header.gone == ["two.json", "more-3.json", "more-4.json"], "a few of them"
    told = pq.read_table(plan.tables / "changes.parquet")["path"].to_pylist()
    assert sorted(told) == [*(f"more-{n}.json" for n in range(3, 6)), "new.json", "two.json"]
    assert (plan.header.name, plan.header.begun_ms) == (before.name, before.begun_ms)
    assert plan.header.planned_ms > before.planned_ms
    assert plan.header.number == before.number + 1


def test_a_summary_is_of_the_results_as_they_last_were_whole(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (archive / "one.json").write_text(json.dumps(request()))
    out = tag(archive, tmp_path / "out")
    before = summarise(out, None).total
    (archive / "more.json").write_text(json.dumps(request(3)))
    with monkeypatch.context() as patch:
        _kill_at(patch, tagging, "write_part", 0)
        with pytest.raises(_Killed):
            tag(archive, out)
    assert summarise(out, None).total == before
    tag(archive, out)
    assert summarise(out, None).total.swings == before.swings + 1
