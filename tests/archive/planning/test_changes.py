"""An archive that grows, changes and loses files: tagged is what is new, and nothing else."""

from __future__ import annotations

import gzip
import json
import random
from dataclasses import replace
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from service.archive import results as written
from service.archive.errors import ChangedArchive
from service.archive.files.listing import SHUT, File
from service.archive.planning import looking
from service.archive.results import finished_results
from service.records import Database
from service.use_cases.archive import tag as tagging
from service.use_cases.archive.convert import convert_archive
from service.use_cases.archive.tag import TagArchive, tag_archive
from tests.archive.made import RULES_ONLY, ndjson, request, rows, tag
from tests.archive.planning.changed import (
    CHANGES,
    copied,
    edit,
    grow,
    numbered,
    same_size_and_time,
    shorten,
    unordered,
    watched,
)
from tests.archive.test_keeping import keeping, kept


@pytest.mark.parametrize(("how", "partition"), [*zip(CHANGES, [2, 100] * 4, strict=True)])
def test_only_what_is_new_or_changed_is_tagged_and_the_results_are_as_if_tagged_at_once(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str, partition: int
) -> None:
    change, expected = CHANGES[how]
    out = tag(archive, tmp_path / "out", partition=partition)
    change(archive)
    with watched(monkeypatch) as seen:
        tag(archive, out, partition=partition)
    assert set(seen) == expected
    assert unordered(out) == unordered(tag(archive, tmp_path / "anew"))
    assert not list(out.glob("_state-*"))


def test_a_file_written_anew_within_a_tick_of_the_clock_is_told_by_its_content(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tag(archive, tmp_path / "out")
    (archive / "two.json").write_text(json.dumps(numbered(3)))
    monkeypatch.setattr(looking, "_looks_the_same", lambda *_: True)
    with watched(monkeypatch) as seen:
        tag(archive, tmp_path / "out")
    assert seen == ["two.json:0"]


@pytest.mark.parametrize("what", ["size", "changed_ns", "status_ns", "inode"])
def test_a_file_looks_another_once_anything_told_of_it_differs(what: str) -> None:
    file = File("a.json", size=10, changed_ns=20, status_ns=30, inode=40)
    assert looking._looks_the_same(file, replace(file))
    assert not looking._looks_the_same(file, replace(file, **{what: 41}))


def test_a_folder_that_may_not_be_listed_looks_the_same_until_it_may() -> None:
    shut = File("b/", SHUT, 1, 1, 1)
    assert looking._looks_the_same(shut, File("b/", SHUT, 2, 2, 2))
    assert not looking._looks_the_same(shut, File("b/", 10, 1, 1, 1))


@pytest.mark.parametrize(
    ("file", "told"),
    [
        (File("a.json", 10, status_ns=99), True),
        (File("a.json", 10, status_ns=100), False),
        (File("a.json", 10, status_ns=0), False),  # where a system tells no such time
        (File("b/", SHUT, status_ns=200), True),
        (File("\udcff.json", 10, status_ns=200), True),  # no UTF-8, so it is never opened
    ],
)
def test_looks_tell_of_what_is_older_than_the_plan_and_of_what_is_never_opened(
    file: File, told: bool
) -> None:
    assert looking._can_be_told_by_looks(file, 100) is told


def test_a_file_that_was_written_to_looks_another_whatever_its_size_and_time(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    long_ago = -3_600_000_000_000
    monkeypatch.setattr(looking, "_TICK_NS", long_ago)  # no file is too new to be told by looks
    tag(archive, tmp_path / "out")
    same_size_and_time(archive)
    with watched(monkeypatch) as seen:
        tag(archive, tmp_path / "out")
    assert seen == ["two.json:0"]


def test_what_could_not_be_read_is_tried_again_once_its_file_may_be_another(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (archive / "cut.json.gz").write_bytes(gzip.compress(json.dumps(numbered(60)).encode())[:-9])
    tag(archive, tmp_path / "out")
    copied(archive)
    with watched(monkeypatch) as seen:
        tag(archive, tmp_path / "out")
    assert seen == ["cut.json.gz:0"]


def test_changes_of_every_kind_one_after_the_other_add_up(archive: Path, tmp_path: Path) -> None:
    out = tag(archive, tmp_path / "out", partition=3)
    for change, _ in CHANGES.values():
        change(archive) if change is not same_size_and_time else None
        tag(archive, out, partition=3)
    assert unordered(out) == unordered(tag(archive, tmp_path / "anew"))


def test_results_that_change_while_they_are_read_are_told_as_such(
    archive: Path, tmp_path: Path
) -> None:
    out = tag(archive, tmp_path / "out", partition=2)
    reader = finished_results(out)
    shorten(archive)
    tag(archive, out, partition=2)
    with pytest.raises(written.NoResults, match="was brought up to date meanwhile"):
        list(reader.parts("swings"))


def test_no_workers_are_started_for_what_is_soon_done(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def started(*_: object) -> None:
        raise AssertionError

    out = tag(archive, tmp_path / "out", partition=3)
    grow(archive)
    monkeypatch.setattr(tagging, "run_on_dask", started)
    tag(archive, out, partition=3, workers=2)
    with pytest.raises(AssertionError):
        tag(archive, tmp_path / "anew", partition=3, workers=2)


def test_an_archive_most_of_which_is_not_there_is_not_taken_for_one_that_shrank(
    archive: Path, tmp_path: Path
) -> None:
    out = tag(archive, tmp_path / "out")
    before = unordered(out)
    for path in sorted(archive.iterdir())[:4]:
        path.unlink()
    with pytest.raises(ChangedArchive, match=r"of 6 files 4 \(broken\.json, .* and 1 more\)"):
        tag(archive, out)
    assert unordered(out) == before


def test_half_an_archive_may_go_and_of_a_few_that_are_gone_each_is_named(
    archive: Path, tmp_path: Path
) -> None:
    out = tag(archive, tmp_path / "out")
    for path in sorted(archive.iterdir())[:3]:
        path.unlink()
    tag(archive, out)
    assert unordered(out) == unordered(tag(archive, tmp_path / "anew"))
    for path in archive.iterdir():
        path.rename(path.with_name(f"other-{path.name}"))
    with pytest.raises(ChangedArchive, match=r"of 3 files 3 \(\w.*, \w.*, \w[^,]*\) are gone"):
        tag(archive, out)


@pytest.mark.parametrize("what", ["added", "gone"])
def test_one_file_more_or_less_is_noticed_though_all_others_are_as_they_were(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    monkeypatch.setattr(looking, "_TICK_NS", -(10**12))  # no clock is too coarse to tell
    out = tag(archive, tmp_path / "out")
    with watched(monkeypatch) as seen:
        tag(archive, out)
    assert not seen
    if what == "added":
        (archive / "three.json").write_text(json.dumps(numbered(3)))
    else:
        (archive / "two.json").unlink()
    tag(archive, out)
    assert unordered(out) == unordered(tag(archive, tmp_path / "anew"))
    header = finished_results(out).plan.header
    assert header.changes == {"added": 0, "changed": 0, "gone": 0} | {what: 1}


def test_a_part_of_the_results_that_is_lost_is_done_anew_though_the_archive_is_as_it_was(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(looking, "_TICK_NS", -(10**12))  # no clock is too coarse to tell
    out = tag(archive, tmp_path / "out", partition=2)
    whole = unordered(out)
    max(out.glob("swings/part-*"), key=lambda part: pq.read_metadata(part).num_rows).unlink()
    assert unordered(out) != whole
    tag(archive, out, partition=2)
    assert unordered(out) == whole


def test_what_was_kept_from_before_done_now_and_gone_is_counted(
    archive: Path, tmp_path: Path
) -> None:
    out = tag(archive, tmp_path / "out")
    grow(archive)
    edit(archive)
    (archive / "two.json").unlink()
    plan = tag_archive(TagArchive(archive, out, {}), RULES_ONLY, lambda left, more: None)
    header = plan.header
    assert (header.inputs - header.kept, header.files) == (4, 6)
    assert header.changes == {"added": 1, "changed": 1, "gone": 1}
    assert header.gone == ["two.json"]
    told = pq.read_table(plan.tables / "changes.parquet").to_pylist()
    assert {row["what"]: row["path"] for row in told} == {
        "added": "later/new.json",
        "changed": "lines.ndjson",
        "gone": "two.json",
    }


def test_a_clip_in_one_file_a_frame_is_tagged_anew_once_one_of_its_frames_is_another(
    tmp_path: Path,
) -> None:
    archive, out = tmp_path / "archive", tmp_path / "out"
    archive.mkdir()
    frames = [
        {"people": [{"pose_keypoints_2d": [100.0 + k, 50.0 + k, 0.9] * 25}]} for k in range(15)
    ]
    paths = [archive / f"a_{k:012}_keypoints.json" for k in range(len(frames))]
    for path, frame in zip(paths, frames, strict=True):
        path.write_text(json.dumps(frame))

    def fingerprints() -> list[int]:
        wanted = TagArchive(archive, out, {"fps": 30.0})
        tag_archive(wanted, RULES_ONLY, lambda left, more: None)
        return [row["fingerprint"] for row in rows(out, "_seen")]

    (before,) = fingerprints()
    paths[7].write_text(json.dumps(frames[8]))
    (after,) = fingerprints()
    assert after != before
    paths[7].write_text(json.dumps(frames[7]))
    assert fingerprints() == [before]


def test_an_archive_that_has_grown_is_converted_on(archive: Path, tmp_path: Path) -> None:
    for name in ("tables", "anew"):
        wanted = TagArchive(archive, tmp_path / name, {}, partition=4)
        convert_archive(wanted, RULES_ONLY, lambda left, more: None)
        grow(archive) if name == "tables" else None
    wanted = TagArchive(archive, tmp_path / "tables", {}, partition=4)
    convert_archive(wanted, RULES_ONLY, lambda left, more: None)
    for table in ("clips", "_errors"):
        ours, theirs = (sorted(map(repr, rows(tmp_path / n, table))) for n in ("tables", "anew"))
        assert ours == theirs


def test_a_changed_swing_is_kept_in_the_records_beside_what_it_was(
    tmp_path: Path, database: Database, database_url: str
) -> None:
    archive, settings = tmp_path / "archive", keeping(database_url)
    archive.mkdir()
    lines = [{**request(seed), "player": "Ada", "date": "2024-05-17"} for seed in (1, 2)]
    (archive / "a.ndjson").write_bytes(ndjson(*lines))
    out = tag(archive, tmp_path / "out", settings, keep_by="player")
    first = kept(database)
    (archive / "a.ndjson").write_bytes(ndjson(lines[0], {**lines[1], "club": "wedge"}))
    tag(archive, out, settings, keep_by="player")
    assert set(first) < set(kept(database))
    assert len(kept(database)) == 3


def test_every_chance_of_changes_ends_as_if_tagged_at_once(tmp_path: Path) -> None:
    chance = random.Random(4)
    archive, out = tmp_path / "archive", tmp_path / "out"
    archive.mkdir()
    texts = [json.dumps({"client_reference": str(n)}).encode() for n in range(4)] + [b""]
    for turn in range(8):
        for name in chance.sample(["a.ndjson", "b.ndjson.gz", "c.ndjson"], chance.randint(1, 2)):
            lines = b"\n".join(chance.choices(texts, k=chance.randint(1, 6)))
            path = archive / name
            path.write_bytes(gzip.compress(lines) if name.endswith("gz") else lines)
        (archive / "d.json").write_bytes(chance.choice(texts))
        tag(archive, out, partition=chance.choice([1, 2, 3, 50]))
        assert unordered(out) == unordered(tag(archive, tmp_path / str(turn))), turn
