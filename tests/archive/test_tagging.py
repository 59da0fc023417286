from __future__ import annotations

import errno
import json
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import chdir
from dataclasses import replace
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from service.analysis import SwingAnalysis, SwingRecording
from service.analysis.analyse import analyse
from service.archive.errors import (
    ArchiveError,
    BegunOtherwise,
    EmptyArchive,
    NotSeen,
    NotWritten,
    ResultsInUse,
)
from service.archive.files.listing import others
from service.archive.planning import plan
from service.archive.planning.writing import alone_in
from service.archive.results import done, finished_results
from service.archive.schemas import RESULTS
from service.intake.recording import Limits, read_clip
from service.settings import Settings
from service.use_cases.archive import tag as tagging
from service.use_cases.archive.convert import convert_archive
from service.use_cases.archive.tag import Job, Worked
from service.use_cases.archive.totals import totals_of
from tests.archive.made import (
    RULES_ONLY,
    everything,
    ndjson,
    request,
    rows,
    short_request,
    tag,
)

WHOLE = 6
"""Swings of the small archive."""

Work = Callable[[Job], Worked]


def test_every_swing_of_every_file_has_a_row_with_its_place(results: Path) -> None:
    places = [(row["path"], row["line"]) for row in rows(results)]
    assert places == [
        ("coach=Ada/one.json", None),
        ("lines.ndjson", 1),
        ("lines.ndjson", 2),
        ("lines.ndjson", 3),
        ("lines.ndjson", 4),
        ("two.json.gz", None),
    ]
    totals = totals_of(finished_results(results))
    assert (totals.swings, totals.found, totals.refused) == (WHOLE, 3, [])


def test_progress_ends_with_as_many_swings_as_there_are_and_counts_no_empty_lines(
    tmp_path: Path,
) -> None:
    (tmp_path / "archive").mkdir()
    lines = ndjson(short_request()).join([b"", b"\n  \r\n", b"\n"])
    (tmp_path / "archive" / "a.ndjson").write_bytes(lines)
    for work, name in ((tagging.tag_archive, "out"), (convert_archive, "tables")):
        told: list[tuple[int, int]] = []
        wanted = tagging.TagArchive(tmp_path / "archive", tmp_path / name, {})
        work(wanted, RULES_ONLY, lambda left, more, told=told: told.append((left, more)))
        assert told[-1][0] == sum(more for _, more in told) == 2, name


def test_tables_have_the_columns_that_are_documented(results: Path) -> None:
    for table, schema in RESULTS.items():
        names = [pq.read_schema(path).names for path in (results / table).glob("*.parquet")]
        assert names, table
        assert all(each == schema.names for each in names)


def test_findings_measures_and_positions_are_those_of_an_analysis(results: Path) -> None:
    recording, _ = read_clip(json.dumps(request()).encode(), Limits(12, 5000))
    analysis = analyse(recording)
    swing = rows(results)[0]
    assert [swing[f"p{p.number}_s"] for p in analysis.positions] == [
        p.time for p in analysis.positions
    ]
    findings = [f for f in rows(results, "findings") if f["swing"] == swing["swing"]]
    assert [(f["fault"], f["status"], f["confidence"]) for f in findings] == [
        (f.fault, f.status.value, f.confidence) for f in analysis.findings
    ]
    assert [len(f["evidence"]) for f in findings] == [len(f.evidence) for f in analysis.findings]
    measures = [m for m in rows(results, "measures") if m["swing"] == swing["swing"]]
    assert [(m["measure"], m["value"]) for m in measures] == [
        (m.name, m.value) for m in analysis.measures
    ]


def test_what_else_is_known_of_a_swing_comes_along(results: Path) -> None:
    carried = {(r["path"], r["line"]): dict(r["carried"]) for r in rows(results)}
    assert carried["coach=Ada/one.json", None] == {"coach": "Ada"}
    assert carried["lines.ndjson", 1] == {"player": "Ada Fairway", "age": "41"}
    assert carried["two.json.gz", None] == {}
    assert rows(results)[2]["client_reference"] == "still"


def test_a_run_that_was_interrupted_does_the_rest_and_ends_as_an_undisturbed_one(
    archive: Path, results: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    worked: list[int] = []
    tag_partition = tagging.tag_partition

    def break_off(job: tagging.Job) -> int:
        if len(worked) == 1:
            raise KeyboardInterrupt
        worked.append(job.number)
        return tag_partition(job)

    with monkeypatch.context() as patch:
        patch.setattr(tagging, "tag_partition", break_off)
        with pytest.raises(KeyboardInterrupt):
            tag(archive, tmp_path / "out", partition=2)
    (aside,) = (tmp_path / "out").glob("_state-*")
    first = (aside / "swings" / "part-000000.parquet").stat().st_mtime_ns
    assert done(aside) == {0}
    half_written = aside / "swings" / ".part-000001.parquet.killed"
    half_written.write_bytes(b"PAR1")
    tag(archive, tmp_path / "out", partition=2)
    assert everything(tmp_path / "out") == everything(results)
    assert (tmp_path / "out" / "swings" / "part-000000.parquet").stat().st_mtime_ns == first
    assert not half_written.exists()


def test_findings_without_their_swings_are_of_a_partition_that_is_done_again(
    archive: Path, results: Path, tmp_path: Path
) -> None:
    out = tag(archive, tmp_path / "out", partition=2)
    (out / "swings" / "part-000001.parquet").unlink()
    assert everything(tag(archive, out, partition=2)) == everything(results)


def test_a_disk_that_is_full_at_the_start_is_told_with_the_folder(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "Error writing bytes to file")

    monkeypatch.setattr("service.archive.planning.writing.pq.ParquetWriter", full)
    with pytest.raises(NotWritten, match=r"out/_plan/\w+ can't be written: No space left"):
        tag(archive, tmp_path / "out")


def test_results_are_not_mixed_with_those_of_other_options(archive: Path, results: Path) -> None:
    with pytest.raises(BegunOtherwise, match=r"assumed was \{\}"):
        tag(archive, results, assumed={"fps": 60})
    with pytest.raises(BegunOtherwise, match=r"model was 'rules alone', .* retag .* tells what"):
        tag(archive, results, Settings(database_url=""))


def test_a_worker_with_another_model_writes_nothing(archive: Path, tmp_path: Path) -> None:
    out = tag(archive, tmp_path / "out")
    there = plan.open_plan(out)
    assert there is not None
    job = tagging.job_of(there, None, RULES_ONLY, 0, model="another")  # type: ignore[arg-type]
    with pytest.raises(BegunOtherwise, match="give every machine"):
        tagging.tag_partition(job)
    assert not list(out.glob("_state-*"))


def test_a_worker_that_was_started_in_another_folder_writes_where_the_command_wants_it(
    archive: Path, results: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def elsewhere(work: Work, jobs: Iterable[Job]) -> Iterator[Worked]:
        for job in jobs:
            with chdir("/"):
                yield work(job)

    monkeypatch.setattr(tagging, "run_here", elsewhere)
    monkeypatch.chdir(tmp_path)
    Path("archive").symlink_to(archive)
    assert everything(tag(Path("archive"), Path("out"))) == everything(results)


@pytest.mark.parametrize("unseen", ["archive", "out"])
def test_a_worker_that_does_not_see_the_folders_of_the_command_is_told_and_writes_nothing(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, unseen: str
) -> None:
    folder = tmp_path / "archive"
    shutil.copytree(archive, folder)
    before = everything(tag(folder, tmp_path / "out"))
    (folder / "new.json").write_text(json.dumps(short_request()))

    def on_another_machine(work: Work, jobs: Iterable[Job]) -> Iterator[Worked]:
        nowhere = Path("/nowhere/here")
        for job in jobs:
            if unseen == "archive":
                yield work(replace(job, reading=replace(job.reading, archive=nowhere)))
            else:
                yield work(replace(job, out=nowhere))

    monkeypatch.setattr(tagging, "run_here", on_another_machine)
    with pytest.raises(NotSeen, match="does not see /nowhere/here"):
        tag(folder, tmp_path / "out")
    assert everything(tmp_path / "out") == before


def test_two_commands_do_not_work_in_one_folder(tmp_path: Path, archive: Path) -> None:
    with alone_in(tmp_path / "out"), pytest.raises(ResultsInUse):
        tag(archive, tmp_path / "out")


def test_a_disk_that_is_full_is_told_and_leaves_nothing_half_written(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def half(_: object, path: Path) -> None:
        path.parent.mkdir(parents=True)
        path.write_bytes(b"half")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("service.archive.results._write", half)
    with pytest.raises(NotWritten, match=r"No space left on device\. What is done is kept"):
        tag(archive, tmp_path / "out")
    assert not list(tmp_path.rglob("*part-*"))


def test_what_is_passed_over_is_told_links_and_pipes_too(archive: Path, tmp_path: Path) -> None:
    folder = tmp_path / "archive"
    shutil.copytree(archive, folder)
    (folder / "notes.txt").write_text("nothing")
    (folder / "old.zip").write_bytes(b"")
    (folder / "gone.json").symlink_to("nowhere")
    (folder / "loop.json").symlink_to("loop.json")
    (folder / "again").symlink_to(folder)
    os.mkfifo(folder / "pipe.json")
    tag(folder, tmp_path / "out")
    assert len(rows(tmp_path / "out")) == WHOLE
    told = plan.open_plan(tmp_path / "out")
    assert told is not None
    words = others(told.header.passed_over)
    assert "1 .txt" in words
    assert "unpack .zip first" in words
    assert "4 that are links" in words


def test_folders_that_may_not_be_listed_and_names_that_are_no_utf8_are_rows_of_errors(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive = tmp_path / "archive"
    (archive / "lost+found").mkdir(parents=True)
    (archive / "a.json").write_text(json.dumps(short_request()))
    Path(os.fsdecode(os.fsencode(archive) + b"/\xe4.json")).write_text("{}")
    listed = os.scandir

    def shut(folder: Path) -> object:
        if isinstance(folder, Path) and folder.name == "lost+found":
            raise PermissionError(errno.EACCES, "Permission denied")
        return listed(folder)

    monkeypatch.setattr("service.archive.files.listing.os.scandir", shut)
    out = tag(archive, tmp_path / "out")
    assert len(rows(out)) == 1
    told = {e["path"]: (e["code"], e["message"], e["fix"]) for e in rows(out, "errors")}
    assert set(told) == {"lost+found/", r"\xe4.json"}
    assert {code for code, _, _ in told.values()} == {"unreadable-file"}
    assert "may not be listed" in told["lost+found/"][1]
    assert told[r"\xe4.json"][2] == "Give it a name in UTF-8."
    monkeypatch.undo()
    (archive / "lost+found" / "b.json").write_text("{")
    tag(archive, out)
    assert {e["path"] for e in rows(out, "errors")} == {"lost+found/b.json", r"\xe4.json"}
    monkeypatch.setattr("service.archive.files.listing.os.scandir", shut)
    tag(archive, out)
    told = {e["path"] for e in rows(out, "errors")}
    assert told == {"lost+found/b.json", "lost+found/", r"\xe4.json"}, "what was in it is kept"


def test_results_are_not_written_into_the_archive(archive: Path) -> None:
    with pytest.raises(ArchiveError, match="lies in the archive"):
        tag(archive, archive / "out")
    assert not (archive / "out").exists()


def test_results_are_not_taken_for_an_archive(results: Path, tmp_path: Path) -> None:
    with pytest.raises(ArchiveError, match="holds results of this command, not swings"):
        tag(results, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_an_archive_without_any_file_that_is_read_says_what_would_be(tmp_path: Path) -> None:
    (tmp_path / "archive").mkdir()
    (tmp_path / "archive" / "film.mp4").write_bytes(b"")
    told = r"\.ndjson.*Passed over: 1 \.mp4.*python -m service analyse"
    with pytest.raises(EmptyArchive, match=told):
        tag(tmp_path / "archive", tmp_path / "out")


def test_films_are_told_by_count_and_what_to_do_also_where_they_alone_are_new(
    archive: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "archive"
    shutil.copytree(archive, folder)
    tag(folder, tmp_path / "out")
    for name in ("a.mp4", "b.MP4", "c.mov"):
        (folder / name).write_bytes(b"")
    tag(folder, tmp_path / "out")
    told = plan.open_plan(tmp_path / "out")
    assert told is not None
    words = others(told.header.passed_over)
    assert "2 .mp4, 1 .mov" in words
    assert "3 films: python -m service analyse" in words
    assert len(rows(tmp_path / "out")) == WHOLE


def test_one_swing_that_breaks_the_analysis_is_a_row_and_the_others_are_done(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from service.use_cases import analyse as using

    def breaks(recording: SwingRecording, classifier: object) -> SwingAnalysis:
        if len(recording.times) == 30:
            raise ZeroDivisionError("made to break")
        return analyse(recording)

    def all_break(recordings: object, classifier: object) -> list[SwingAnalysis]:
        raise ZeroDivisionError("one of them is made to break")

    monkeypatch.setattr(using, "analyse", breaks)
    monkeypatch.setattr(using, "analyse_many", all_break)
    out = tag(archive, tmp_path / "out")
    assert [(e["line"], e["code"]) for e in rows(out, "errors")] == [(4, "internal-error")]
    assert len(rows(out)) == WHOLE - 1
