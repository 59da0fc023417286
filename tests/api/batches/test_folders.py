from __future__ import annotations

import errno
import gzip
import json
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.intake.many.reading import Reader, Refused
from service.intake.recording import Limits
from service.records.batches.entities import LINES_AN_ITEM, ItemKind, LeasedItem
from service.records.default_academy import DEFAULT_ACADEMY
from service.use_cases.batches import work as working
from service.use_cases.batches.sources.folders import Archive, OutsideArchive
from service.use_cases.batches.sources.items import swings_of
from service.use_cases.batches.work import Worker
from tests.api.batches.sending import NDJSON, alone, bodies, results, state
from tests.attack.two_academies.tries import NOTHING
from tests.intake.test_formats import CASES, plain
from tests.records.kept import RULES, still_body

Work = Callable[[], int]


def _fill(archive: Path) -> None:
    """Two files of one swing, three lines in two files, others that are passed over."""
    (archive / "2019" / "b").mkdir(parents=True)
    (archive / "2019" / "one.json").write_bytes(still_body("one"))
    (archive / "2019" / "a.ndjson").write_bytes(still_body("line") + b"\n\n{\n")
    (archive / "2019" / "b" / "two.json.gz").write_bytes(gzip.compress(still_body("two")))
    (archive / "2019" / "c.jsonl.gz").write_bytes(gzip.compress(still_body("packed") + b"\n"))
    (archive / "2019" / "notes.txt").write_text("nothing")
    (archive / "2019" / ".hidden.json").write_bytes(still_body("hidden"))


def _send(client: TestClient, folder: str) -> dict[str, object]:
    answer = client.post("/v1/batches", json={"folder": folder})
    assert answer.status_code == 202, answer.text
    told: dict[str, object] = answer.json()
    return told


def test_a_folder_is_listed_in_the_order_of_names_and_each_swing_answered_with_its_place(
    client: TestClient, archive: Path, work: Work
) -> None:
    _fill(archive)
    batch = _send(client, "2019/")
    assert batch["state"] == "listing"
    work()
    found = results(client, batch)
    assert [
        (line["path"], line.get("path_line"), line["client_reference"], line["status"])
        for line in found
    ] == [
        ("2019/a.ndjson", 1, "line", 200),
        ("2019/a.ndjson", 3, None, 400),
        ("2019/b/two.json.gz", None, "two", 200),
        ("2019/c.jsonl.gz", 1, "packed", 200),
        ("2019/one.json", None, "one", 200),
    ]
    assert found[4]["analysis"] == alone(still_body("one"))
    assert (state(client, batch)["total"], state(client, batch)["state"]) == (5, "done")


def test_a_batch_of_a_folder_tells_what_it_passed_over(
    client: TestClient, archive: Path, work: Work
) -> None:
    _fill(archive)
    for name in ("a.MOV", "b/c.mp4", "b/d.mp4", "LICENCE"):
        (archive / "2019" / name).write_bytes(b"nothing")
    (archive / "2019" / "_results.json").write_bytes(still_body("left out"))
    (archive / "2019" / "link.json").symlink_to(archive / "2019" / "one.json")
    batch = _send(client, "2019")
    assert batch["passed_over"] is None, "as it is not listed yet"
    work()
    assert state(client, batch)["total"] == 5
    assert state(client, batch)["passed_over"] == {
        "files": 6,
        "films": 3,
        "ends": {
            ".mov": 1,
            ".mp4": 2,
            ".txt": 1,
            "without an end": 1,
            "that are links, or no ordinary files": 1,
        },
    }
    (archive / "2019" / "more.mp4").write_bytes(b"nothing")
    assert state(client, batch)["passed_over"]["films"] == 3
    sent = client.post("/v1/batches", content=still_body(), headers=NDJSON).json()
    work()
    assert state(client, sent)["passed_over"] is None


def test_a_listing_that_broke_off_goes_on_where_it_was(
    client: TestClient,
    archive: Path,
    work: Work,
    make_worker: Callable[..., Worker],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lines = b"\n".join(bodies(3 * LINES_AN_ITEM, "line"))
    (archive / "m.ndjson").write_bytes(lines)
    for number, body in enumerate(bodies(LINES_AN_ITEM + 2, "file")):
        (archive / f"f{number:03}.json").write_bytes(body)
    (archive / "z.json").write_bytes(still_body("last"))
    for film in ("a.mp4", "n.mp4"):
        (archive / film).write_bytes(b"nothing")
    batch = _send(client, "")
    monkeypatch.setattr(working, "_LISTED_AT_ONCE", 1)
    stops = make_worker()
    for _ in range(4):  # each lists one piece more, as its worker is told to stop at once
        stops._safely(lambda: _once(stops))
    work()
    references = [line["client_reference"] for line in results(client, batch)]
    assert references == [
        *(f"file {number}" for number in range(LINES_AN_ITEM + 2)),
        *(f"line {number}" for number in range(3 * LINES_AN_ITEM)),
        "last",
    ]
    assert state(client, batch)["passed_over"] == {"files": 2, "films": 2, "ends": {".mp4": 2}}


def _once(worker: Worker) -> None:
    class StopsAfterOne(threading.Event):
        asked = 0

        def is_set(self) -> bool:
            self.asked += 1
            return self.asked > 1  # once before it takes something

    worker.turn(StopsAfterOne())


def test_lines_of_a_file_that_breaks_off_are_done_up_to_there(
    client: TestClient, archive: Path, work: Work
) -> None:
    packed = gzip.compress(b"\n".join(bodies(LINES_AN_ITEM + 3)))
    (archive / "a.ndjson.gz").write_bytes(packed[:-60])
    batch = _send(client, "")
    work()
    *good, broken = results(client, batch)
    assert len(good) > LINES_AN_ITEM
    assert all(line["status"] == 200 for line in good)
    assert broken["problem"]["type"] == "/problems/malformed-gzip"
    assert broken["path_line"] == len(good) + 1


def test_a_folder_is_read_as_an_archive_is_with_what_it_assumes_and_carries(
    client: TestClient, archive: Path, work: Work
) -> None:
    told = {**json.loads(still_body("one")), "player": "Ada", "timestamps": None}
    (archive / "coach=Bo").mkdir()
    (archive / "coach=Bo" / "one.json").write_text(json.dumps(told))
    answer = client.post("/v1/batches", json={"folder": "", "assume": {"fps": 60}})
    assert answer.status_code == 202, answer.text
    work()
    (line,) = results(client, answer.json())
    assert line["status"] == 200, line
    assert line["carried"] == {"coach": "Bo", "player": "Ada"}


def test_a_clip_in_one_file_a_frame_is_one_line_with_the_path_of_the_first(
    client: TestClient, archive: Path, work: Work
) -> None:
    joints, write, _ = CASES["openpose_json"]
    frames = write(plain(joints))
    assert isinstance(frames, list)
    (archive / "swing").mkdir()
    for number, frame in enumerate(frames):
        path = archive / "swing" / f"swing_{number:012}_keypoints.json"
        path.write_text(json.dumps(frame))
    answer = client.post("/v1/batches", json={"folder": "", "assume": {"fps": 30}})
    work()
    (line,) = results(client, answer.json())
    assert (line["path"], line["status"]) == ("swing/swing_000000000000_keypoints.json", 200), line
    whole = json.dumps({"keypoints": frames, "fps": 30}).encode()
    assert line["analysis"] == alone(whole)


def test_a_folder_of_frames_is_listed_once_for_all_its_clips_until_it_changes(
    archive: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def add(name: str) -> None:
        (archive / "frames" / f"{name}_keypoints.json").write_text(json.dumps({"people": name}))

    (archive / "frames").mkdir()
    for number in range(3):
        add(f"a_{number:012}")
        add(f"b_{number:012}")
    listings = []
    scan = os.scandir
    monkeypatch.setattr(os, "scandir", lambda folder: listings.append(folder) or scan(folder))
    ours = Archive(archive.parent, DEFAULT_ACADEMY)
    first, second = (f"frames/{clip}_000000000000_keypoints.json" for clip in "ab")
    assert [len(json.loads(ours.text(path, 1000))) for path in (first, second)] == [3, 3]
    assert len(listings) == 1
    time.sleep(0.02)  # a folder tells its times no finer than the system ticks
    add(f"b_{3:012}")
    assert len(json.loads(ours.text(second, 1000))) == 4


@pytest.mark.parametrize("option", ["callback_url", "lesson_id"])
def test_an_option_in_the_body_is_told_to_belong_in_the_address(
    client: TestClient, archive: Path, option: str
) -> None:
    answer = client.post("/v1/batches", json={"folder": "", option: "https://example.com"})
    assert answer.status_code == 422
    (wrong,) = answer.json()["errors"]
    assert wrong["pointer"] == f"/{option}"
    assert f"/v1/batches?{option}=" in wrong["fix"]


@pytest.mark.parametrize("fps", ["fast", "60", 5])
def test_what_is_assumed_is_checked_at_the_door(
    client: TestClient, archive: Path, fps: object
) -> None:
    answer = client.post("/v1/batches", json={"folder": "", "assume": {"fps": fps}})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/assume/fps"


def test_rows_of_a_table_are_done_as_its_files_would_be(
    client: TestClient, archive: Path, work: Work
) -> None:
    parquet = pytest.importorskip("pyarrow.parquet", reason="the extra archive is not here")
    from service.archive.table import clip_row, clips_table

    clips = [RULES.analyse_body(body) for body in bodies(LINES_AN_ITEM + 3)]
    rows = [
        clip_row(
            clip.recording,
            {"timestamps": clip.recording.times.tolist(), "client_reference": clip.reference},
            {"coach": "Bo"},
            ("", None),
        )
        for clip in clips
    ]
    parquet.write_table(clips_table(rows), archive / "a.parquet", row_group_size=LINES_AN_ITEM + 1)
    (archive / "b.parquet").write_bytes(b"no table")
    batch = _send(client, "")
    work()
    *good, broken = results(client, batch)
    assert [line["client_reference"] for line in good] == [clip.reference for clip in clips]
    assert [line["path_line"] for line in good] == list(range(1, len(clips) + 1))
    assert all(line["carried"] == {"coach": "Bo"} for line in good)
    assert broken["problem"]["type"] == "/problems/malformed-parquet"


@pytest.mark.parametrize(
    "folder",
    ["/etc", "..", "2019/../..", "./../default", "out", "2019/out", "file.json", "none", "a\0b"],
)
def test_no_path_leads_out_of_the_archive(client: TestClient, archive: Path, folder: str) -> None:
    outside = archive.parent / "other"
    outside.mkdir()
    (outside / "secret.json").write_bytes(still_body("secret"))
    (archive / "2019").mkdir()
    (archive / "out").symlink_to(outside)
    (archive / "2019" / "out").symlink_to("/etc")
    (archive / "file.json").write_bytes(b"{}")
    answer = client.post("/v1/batches", json={"folder": folder})
    assert answer.status_code == 422, answer.text
    assert answer.json()["errors"][0]["pointer"] == "/folder"


def test_links_in_a_folder_are_not_followed_even_if_they_come_in_between(
    client: TestClient, archive: Path, work: Work, make_worker: Callable[..., Worker]
) -> None:
    outside = archive.parent / "secret.json"
    outside.write_bytes(still_body("secret"))
    (archive / "a.json").write_bytes(still_body("a"))
    (archive / "b.json").symlink_to(outside)
    (archive / "c.json").write_bytes(still_body("c"))
    batch = _send(client, "")
    make_worker().turn(threading.Event())  # lists
    (archive / "c.json").unlink()
    (archive / "c.json").symlink_to(outside)
    os.mkfifo(archive / "d.json")
    work()
    found = results(client, batch)
    assert [(line["path"], line["status"]) for line in found] == [("a.json", 200), ("c.json", 422)]
    assert "secret" not in json.dumps(found)


def test_files_that_can_not_be_read_are_told_with_the_reason(
    client: TestClient, archive: Path, work: Work
) -> None:
    packed = gzip.compress(still_body("cut"))
    (archive / "cut.json.gz").write_bytes(packed[:-20])
    (archive / "cut.ndjson.gz").write_bytes(packed[:-20])
    (archive / "gone.json").write_bytes(still_body())
    (archive / "large.json").write_bytes(b" " * 2_000_000)
    (archive / os.fsdecode(b"odd\xff.json")).write_bytes(still_body("odd"))
    batch = _send(client, "")
    work()
    found = {line["path"]: line for line in results(client, batch)}
    assert {path: line.get("problem", {}).get("type") for path, line in found.items()} == {
        "cut.json.gz": "/problems/malformed-gzip",
        "cut.ndjson.gz": "/problems/malformed-gzip",
        "gone.json": None,
        "large.json": "/problems/body-too-large",
        "odd?.json": None,
    }
    assert found["odd?.json"]["client_reference"] == "odd"
    assert "breaks off" in found["cut.json.gz"]["problem"]["detail"]


def test_a_folder_in_it_that_may_not_be_listed_is_a_line_and_the_others_are_done(
    client: TestClient, archive: Path, work: Work, monkeypatch: pytest.MonkeyPatch
) -> None:
    (archive / "lost+found").mkdir()
    (archive / "z.json").write_bytes(still_body())
    opened = os.open

    def shut(path: object, *options: Any, **more: Any) -> int:
        if path == "lost+found":
            raise PermissionError(errno.EACCES, "Permission denied")
        return opened(path, *options, **more)  # type: ignore[call-overload]

    batch = _send(client, "")
    monkeypatch.setattr("service.use_cases.batches.sources.folders.os.open", shut)
    work()
    lost, done = results(client, batch)
    assert (lost["path"], lost["problem"]["type"]) == ("lost+found/", "/problems/unreadable-file")
    assert "may not be listed" in lost["problem"]["detail"]
    assert (done["path"], done["status"]) == ("z.json", 200)


def test_empty_lines_before_a_swing_are_no_work(
    client: TestClient, archive: Path, work: Work
) -> None:
    (archive / "a.ndjson").write_bytes(b" \n" * 5_000 + still_body() + b"\n")
    batch = _send(client, "")
    assert work() <= 3
    (found,) = results(client, batch)
    assert (found["line"], found["path_line"], found["status"]) == (1, 5_001, 200)


def test_a_folder_that_vanishes_is_told(client: TestClient, archive: Path, work: Work) -> None:
    (archive / "2019").mkdir()
    batch = _send(client, "2019")
    (archive / "2019").rmdir()
    work()
    told = state(client, batch)
    assert told["state"] == "failed"
    assert "could not be read" in told["problem"]


def test_each_academy_has_an_archive_of_its_own(archive: Path) -> None:
    (archive.parent / NOTHING).mkdir()
    (archive / "2019").mkdir()
    Archive(archive.parent, NOTHING).check("")
    with pytest.raises(OSError, match="2019"):
        Archive(archive.parent, NOTHING).check("2019")
    with pytest.raises(OutsideArchive):
        Archive(archive.parent, NOTHING).check("../default")


def test_rows_that_a_table_has_lost_since_it_was_listed_are_refused_each_at_its_place(
    tmp_path: Path,
) -> None:
    pytest.importorskip("pyarrow", reason="the extra archive is not here")
    from tests.archive.planning.changed import write_rows

    (tmp_path / "default").mkdir()
    write_rows(tmp_path / "default" / "table.parquet", 1, 2)
    body = json.dumps({"group": 0, "first": 0, "count": 4}).encode()
    item = LeasedItem(1, ItemKind.ROWS, 11, body, "table.parquet", 1)
    reader = Reader(Limits(12, 5000), 10**6)
    read = list(swings_of(item, Archive(tmp_path, DEFAULT_ACADEMY), reader))
    assert [each.origin.line for each in read] == [1, 2, 3, 4]
    lost = [isinstance(each, Refused) and "fewer rows" in str(each.error) for each in read]
    assert lost == [False, False, True, True]
