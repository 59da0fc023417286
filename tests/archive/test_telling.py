"""What was tagged converted, summed up, and written for a spreadsheet."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from service.analysis.faults import CATALOGUE
from service.archive.errors import NoResults
from service.archive.schemas import RESULTS
from service.use_cases.archive import spreadsheets
from service.use_cases.archive.convert import convert_archive
from service.use_cases.archive.spreadsheets import write_spreadsheets
from service.use_cases.archive.summarise import summarise
from service.use_cases.archive.tag import TagArchive
from tests.archive.made import (
    RULES_ONLY,
    ndjson,
    request,
    rows,
    short_request,
    tag,
)


def test_an_archive_converted_once_is_tagged_as_it_would_be_without(
    archive: Path, results: Path, tmp_path: Path
) -> None:
    broken = archive / "broken.json"
    wanted = TagArchive(archive, tmp_path / "tables", {}, partition=4)
    convert_archive(wanted, RULES_ONLY, lambda left, more: None)
    out = tag(tmp_path / "tables", tmp_path / "out")
    assert not broken.exists()
    told = ("swing", "path", "line", "view", "reason", "carried", "remarks")
    assert [{n: r[n] for n in told} for r in rows(out)] == [
        {n: r[n] for n in told} for r in rows(results)
    ]
    for table, name in (("findings", "status"), ("measures", "reason")):
        assert [r[name] for r in rows(out, table)] == [r[name] for r in rows(results, table)]
    pairs = zip(rows(out, "measures"), rows(results, "measures"), strict=True)
    for ours, theirs in pairs:
        assert ours["value"] == pytest.approx(theirs["value"], abs=0.02), ours["measure"]


def test_what_can_not_be_converted_is_put_aside(tmp_path: Path) -> None:
    (tmp_path / "archive").mkdir()
    (tmp_path / "archive" / "a.ndjson").write_bytes(ndjson(short_request()) + b"{\n")
    wanted = TagArchive(tmp_path / "archive", tmp_path / "tables", {})
    convert_archive(wanted, RULES_ONLY, lambda left, more: None)
    with pytest.raises(NoResults, match="an archive that was converted"):
        summarise(tmp_path / "tables", None)
    assert [(e["path"], e["line"]) for e in rows(tmp_path / "tables", "_errors")] == [
        ("a.ndjson", 2)
    ]
    assert len(rows(tag(tmp_path / "tables", tmp_path / "out"))) == 1


def test_a_summary_goes_by_any_column_that_the_archive_carries(results: Path) -> None:
    summary = summarise(results, "player")
    assert {g.name: (g.swings, g.no_swing) for g in summary.groups} == {
        "Ada Fairway": (1, 1),
        "Bob Rough": (1, 0),
        None: (1, 2),
    }
    assert {g.name for g in summarise(results, "view").groups} >= {"face_on", "down_the_line"}
    assert {g.name for g in summarise(results, "year").groups} == {"2024", None}
    rates = {g.name for g in summarise(results, "frame_rate").groups}
    assert all(re.fullmatch(r"\d+(\.\d{1,2})?", rate) for rate in rates if rate)


def test_rates_of_a_summary_are_those_of_the_findings(results: Path) -> None:
    found = rows(results, "findings")
    rates = summarise(results, None).total.rates
    assert {rate.fault for rate in rates} == {f["fault"] for f in found} == set(CATALOGUE)
    for rate in rates:
        statuses = [f["status"] for f in found if f["fault"] == rate.fault]
        assert rate.present == statuses.count("present")
        assert rate.absent == statuses.count("absent")
        assert rate.not_assessable == statuses.count("not_assessable")


def test_results_that_are_not_finished_are_not_summed_up(archive: Path, tmp_path: Path) -> None:
    out = tag(archive, tmp_path / "out", partition=2)
    (out / "swings" / "part-000001.parquet").unlink()
    with pytest.raises(NoResults, match=r"1 of 4 partitions .* are gone"):
        summarise(out, None)


def test_tables_are_written_for_a_spreadsheet_with_nothing_for_it_to_work_out(
    tmp_path: Path,
) -> None:
    (tmp_path / "archive").mkdir()
    (tmp_path / "archive" / "=1+1.json").write_bytes(b"{")
    (tmp_path / "archive" / "two.ndjson").write_bytes(ndjson(short_request(), short_request(30)))
    out = tag(tmp_path / "archive", tmp_path / "out")
    paths = write_spreadsheets(out, tmp_path / "csv")
    assert {path.stem for path in paths} == {"swings", "findings", "measures", "errors"}
    told = {}
    for path in paths:
        with path.open(encoding="utf-8-sig", newline="") as file:
            told[path.stem] = [*csv.DictReader(file)]
    assert [row["swing"] for row in told["swings"]] == [row["swing"] for row in rows(out)]
    assert "'=1+1.json" in [row["path"] for row in told["errors"]]


def test_in_a_spreadsheet_every_cell_is_one_word_or_number(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "archive" / "coach=Ada").mkdir(parents=True)
    swing = {**request(), "club": "putter", "view": "face_on"}
    lines = ndjson({**swing, "reason": "bad back"}, {**swing, "handicap": 7.5})
    (tmp_path / "archive" / "coach=Ada" / "two.ndjson").write_bytes(lines)
    out = tag(tmp_path / "archive", tmp_path / "out")

    def written(name: str) -> list[dict[str, str]]:
        write_spreadsheets(out, tmp_path / "csv")
        with (tmp_path / "csv" / f"{name}.csv").open(encoding="utf-8-sig", newline="") as file:
            return [*csv.DictReader(file)]

    first, second = written("swings")
    assert [row["coach"] for row in (first, second)] == ["Ada", "Ada"]
    assert (first["handicap"], second["handicap"]) == ("", "7.5")
    assert (first["carried_reason"], first["reason"]) == ("bad back", "")
    assert first["club_label"] == "putter"
    assert "club_not_known" in first["remarks"].split("; ")
    (kept,) = (row for row in rows(out) if row["line"] == 1)
    assert float(first["p4_s"]) == pytest.approx(kept["p4_s"], rel=1e-5)
    assert len(first["p4_s"]) < 10
    judged = [row for row in written("findings") if row["status"] in ("present", "absent")]
    for row in judged:
        assert row["evidence_1_direction"] in ("above", "below")
        assert row["evidence_1_measure"]
        assert abs(float(row["evidence_1_threshold"])) < 1000
    everything_told = "".join((tmp_path / "csv" / f"{n}.csv").read_text() for n in RESULTS)
    assert not set("[]{}") & set(everything_told)
    monkeypatch.setattr(spreadsheets, "_MOST_CARRIED", 2)
    first, second = written("swings")
    assert (first["coach"], first["club_label"]) == ("Ada", "putter")
    assert json.loads(second["carried"]) == {"handicap": "7.5"}
