"""Converting, keeping, summing up and tagging again."""

from __future__ import annotations

import csv
import json
import re
import shutil
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from service.analysis.faults import CATALOGUE
from service.archive.errors import ChangedArchive, Damaged, NoResults, NoSuchColumn
from service.archive.results import done
from service.archive.schemas import RESULTS
from service.records import Database, SwingFilter, Window
from service.records.access import academies
from service.records.access.sessions import Behalf
from service.records.entities import Consent, ConsentBy
from service.records.identity import is_id, stable_id
from service.records.keeping import lessons, players, swings
from service.settings import Settings
from service.use_cases.analyse import Analyser
from service.use_cases.archive import spreadsheets
from service.use_cases.archive.convert import convert_archive
from service.use_cases.archive.retag import retag_kept, retag_results
from service.use_cases.archive.spreadsheets import write_spreadsheets
from service.use_cases.archive.summarise import summarise
from service.use_cases.archive.tag import TagArchive
from tests.archive.made import (
    RULES_ONLY,
    everything,
    ndjson,
    request,
    rows,
    short_request,
    small_archive,
    tag,
)

MODELS = Settings(database_url="")


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


def keeping(database_url: str) -> Settings:
    return RULES_ONLY.model_copy(update={"database_url": database_url})


def kept(database: Database) -> list[tuple[str, str, str]]:
    """Player, day of the lesson and id of every kept swing."""
    with database.reading() as session:
        page = swings.fetch_page(session, SwingFilter(), Window(100))
        return [
            (
                players.get(session, swing.player_id).name,
                lessons.get(session, swing.lesson_id).date.isoformat(),
                swing.id,
            )
            for swing in page.items
        ]


def test_swings_are_kept_with_their_players_and_once_however_often_the_run_is_resumed(
    archive: Path, tmp_path: Path, database: Database, database_url: str
) -> None:
    with database.writing() as session:
        ada = players.add(session, "Ada Fairway").id
    settings = keeping(database_url)
    out = tag(archive, tmp_path / "out", settings, partition=2, keep_by="player")
    first = kept(database)
    assert sorted(name for name, _, _ in first) == ["Ada Fairway", "Bob Rough"]
    assert ("Bob Rough", "2024-05-17") in [(name, day) for name, day, _ in first]
    with database.reading() as session:
        assert [p.id for p in players.of_name(session, "Ada Fairway")] == [ada]
    for part in (out / "swings").glob("*.parquet"):
        part.unlink()  # as after a kill between what is kept and what is written
    tag(archive, out, settings, partition=2, keep_by="player")
    assert kept(database) == first
    told = {row["kept_as"] for row in rows(out)} - {None}
    assert told == {swing_id for _, _, swing_id in first}
    reasons = [row["not_kept"] for row in rows(out) if row["kept_as"] is None]
    assert sorted(reasons) == ["no_player_name", "no_swing", "no_swing", "no_swing"]


def test_a_column_that_no_swing_tells_is_refused_before_any_work_with_those_there_are(
    archive: Path, tmp_path: Path, database: Database, database_url: str
) -> None:
    out, settings = tmp_path / "out", keeping(database_url)
    with pytest.raises(
        NoSuchColumn, match=r"tells 'playr'\. They tell age, client_reference, coach"
    ):
        tag(archive, out, settings, keep_by="playr")
    assert not done(out)
    tag(archive, out, settings, keep_by="coach")
    assert [name for name, _, _ in kept(database)] == ["Ada"]


def test_a_kept_swing_can_be_analysed_again_from_the_request_that_was_kept(
    archive: Path, tmp_path: Path, database: Database, database_url: str
) -> None:
    tag(archive, tmp_path / "out", keeping(database_url), keep_by="player")
    analyser = Analyser.of(MODELS)
    anew = retag_kept(database, analyser, SwingFilter(), lambda left, more: None)
    assert (anew.analysed, anew.up_to_date) == (2, 0)
    again = retag_kept(database, analyser, SwingFilter(), lambda left, more: None)
    assert (again.analysed, again.up_to_date) == (0, 2)
    with database.reading() as session:
        for swing in swings.fetch_page(session, SwingFilter(), Window(100)).items:
            assert swing.analyses == 2


def test_two_players_of_one_name_are_not_guessed_between(
    tmp_path: Path, database: Database, database_url: str
) -> None:
    (tmp_path / "archive").mkdir()
    (tmp_path / "archive" / "a.ndjson").write_bytes(ndjson({**request(), "player": "Ada"}))
    with database.writing() as session:
        players.add(session, "Ada")
        players.add(session, "Ada")
    out = tag(tmp_path / "archive", tmp_path / "out", keeping(database_url), keep_by="player")
    assert [row["not_kept"] for row in rows(out)] == ["several_players_of_that_name"]
    assert kept(database) == []


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


def test_an_id_that_follows_from_names_has_the_form_of_any_other() -> None:
    names: list[Any] = [["swing", "a"], ["swing", "b"], ["player", "a"]]
    ids = {stable_id(1_700_000_000_000, *each) for each in names}
    assert len(ids) == 3
    assert all(is_id(each) and each[14] == "7" and each[19] in "89ab" for each in ids)
    assert json.dumps(sorted(ids)) == json.dumps(
        sorted(stable_id(1_700_000_000_000, *n) for n in names)
    )


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


def test_without_consent_nothing_of_a_player_is_kept(
    archive: Path, tmp_path: Path, database: Database, database_url: str
) -> None:
    behalf = Behalf(needs_consent=True)
    with database.writing() as session:
        given = Consent(date(2024, 1, 1), ConsentBy.GUARDIAN)
        players.add(session, "Bob Rough", consent=given)
    out = tag(archive, tmp_path / "out", keeping(database_url), keep_by="player", behalf=behalf)
    assert [name for name, _, _ in kept(database)] == ["Bob Rough"]
    assert [row["not_kept"] for row in rows(out)].count("no_consent") == 1


def test_swings_are_kept_by_the_academy_that_was_named_and_seen_by_no_other(
    archive: Path, tmp_path: Path, database: Database, database_url: str
) -> None:
    with database.writing() as session:
        other = academies.add(session, "Links (invented)").id
    behalf = Behalf(other)
    tag(archive, tmp_path / "out", keeping(database_url), keep_by="player", behalf=behalf)
    assert kept(database) == []
    assert len(kept(database.on_behalf(behalf))) == 2
