"""Tagging again: what changed, and results that are damaged."""

from __future__ import annotations

import shutil
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from service.archive.errors import ChangedArchive, Damaged
from service.archive.schemas import RESULTS
from service.use_cases.archive.retag import retag_results
from service.use_cases.archive.summarise import summarise
from tests.archive.made import (
    MODELS,
    RULES_ONLY,
    everything,
    ndjson,
    rows,
    short_request,
    small_archive,
    tag,
)


def found_otherwise(results: Path, folder: Path) -> Path:
    """The same results as a model would have given them that was unsure of every first finding."""
    shutil.copytree(results, folder)
    for path in (folder / "findings").glob("*.parquet"):
        found = pq.read_table(path, partitioning=None).to_pylist()
        for finding in found[:1]:
            finding["status"] = "uncertain" if finding["status"] != "uncertain" else "absent"
        pq.write_table(pa.Table.from_pylist(found, RESULTS["findings"]), path)
    return folder


def test_tagging_again_tells_what_changed_and_keeps_both(
    archive: Path, results: Path, tmp_path: Path
) -> None:
    earlier = found_otherwise(results, tmp_path / "earlier")
    before = rows(earlier, "findings")
    anew = retag_results(
        earlier, archive, tmp_path / "new", 1, None, MODELS, lambda left, more: None
    )
    changes = anew.changes
    assert not any(anew.files.values())
    after = rows(tmp_path / "new", "findings")
    assert rows(earlier, "findings") == before
    pairs = list(zip(before, after, strict=True))
    assert all((b["swing"], b["fault"]) == (a["swing"], a["fault"]) for b, a in pairs)
    differing = [(b["fault"], b["status"], a["status"]) for b, a in pairs]
    differing = [each for each in differing if each[1] != each[2]]
    assert differing
    told = [(c.fault, c.before, c.after) for c in changes for _ in range(c.count)]
    assert sorted(told) == sorted(differing)
    assert all(c.examples for c in changes)
    assert changes.swings == len(rows(results))
    assert {row["model"] for row in rows(earlier)} == {None}
    assert {row["model"] for row in rows(tmp_path / "new")} != {None}


def test_another_archive_is_not_taken_for_that_of_the_results(
    results: Path, tmp_path: Path
) -> None:
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "one.json").write_text("{}")
    arguments = (1, None, MODELS, lambda left, more: None)
    with pytest.raises(ChangedArchive):
        retag_results(results, tmp_path / "other", tmp_path / "new", *arguments)


def test_of_an_archive_that_has_changed_what_is_still_the_same_is_compared(
    results: Path, tmp_path: Path
) -> None:
    archive = small_archive(tmp_path / "archive")
    with (archive / "lines.ndjson").open("ab") as file:
        file.write(ndjson(short_request()))
    (archive / "two.json.gz").unlink()
    arguments = (1, None, RULES_ONLY, lambda left, more: None)
    anew = retag_results(results, archive, tmp_path / "new", *arguments)
    assert anew.files == {"added": 0, "changed": 1, "gone": 1}
    assert anew.changes.swings == len(rows(results)) - 1
    assert list(anew.changes) == []
    assert len(rows(tmp_path / "new")) == len(rows(results))


@pytest.mark.parametrize("table", ["findings", "swings"])
def test_results_that_are_damaged_are_told_and_done_again_once_they_are_deleted(
    results: Path, archive: Path, tmp_path: Path, table: str
) -> None:
    out = tmp_path / "out"
    shutil.copytree(results, out)
    (out / table / "part-000000.parquet").write_bytes(b"garbage")
    with pytest.raises(Damaged, match=f"{table}/part-000000.parquet.*Delete .*/swings/part-000000"):
        summarise(out, None)
    (out / "swings" / "part-000000.parquet").unlink()
    tag(archive, out)
    assert everything(out) == everything(results)


def test_a_plan_that_is_damaged_is_told(results: Path, archive: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    shutil.copytree(results, out)
    (pieces,) = out.glob("_plan/*/pieces.parquet")
    pieces.write_bytes(b"garbage")
    with pytest.raises(Damaged, match="tag into another folder"):
        tag(archive, out)
