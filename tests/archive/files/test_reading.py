"""What an archive may hold, what can't be read of it, and why."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from io import BufferedReader
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from service.api.problems.kinds import PROBLEMS
from service.archive.files.listing import File, Piece, pieces_of
from service.archive.files.reading import Reading
from service.archive.planning.units import units_of
from service.intake.many.errors import CODES
from service.intake.many.files import Bytes, Kind, unpacked
from service.intake.many.reading import CLUB_LABEL, Reader, ReadSwing, Refused
from service.intake.recording import Limits
from tests.archive.files.listed import LONGEST, read
from tests.archive.made import ndjson, short_request
from tests.intake.test_formats import CASES, HEIGHT, WIDTH, plain


@pytest.mark.parametrize("name", CASES)
def test_what_a_pose_library_gave_is_read_as_it_came_with_what_is_assumed(
    tmp_path: Path, name: str
) -> None:
    joints, write, normalised = CASES[name]
    (tmp_path / "clip.json").write_text(json.dumps(write(plain(joints))))
    assumed: dict[str, Any] = {"fps": 30.0, "format": name}
    if normalised:
        assumed["image_size"] = {"width": WIDTH, "height": HEIGHT}
    (swing,) = read(tmp_path, assumed=assumed)
    assert isinstance(swing, ReadSwing), swing
    assert swing.recording.remarks[0].code == "format_read"


def test_a_table_that_is_none_is_one_piece_to_be_told_of_and_never_taken_for_one_that_was_read(
    tmp_path: Path,
) -> None:
    (tmp_path / "clips.parquet").write_bytes(b"PAR1 and nothing that a table has")
    units = units_of(tmp_path, File("clips.parquet", 0), LONGEST)
    assert list(units.pieces(np.ones(1, dtype=bool))) == [Piece("clips.parquet", 0, 1, -1)]
    assert not units.those_of(units.first, units.fingerprint).any()
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)


def test_what_is_assumed_gives_way_to_what_a_swing_tells(tmp_path: Path) -> None:
    told = {**short_request(), "view": "down_the_line"}
    (tmp_path / "clip.json").write_text(json.dumps(told))
    (swing,) = read(tmp_path, assumed={"fps": 999, "view": "face_on", "club": "wedge"})
    assert isinstance(swing, ReadSwing), swing
    assert swing.recording.view == "down_the_line"
    assert swing.recording.club == "wedge"


def _text(**changes: Any) -> bytes:
    return json.dumps({**short_request(), **changes}).encode()


def _points(change: Callable[[Any], Any]) -> bytes:
    frames = json.loads(_text())["keypoints"]
    return _text(keypoints=[[point and change(point) for point in frame] for frame in frames])


BROKEN = {
    "cut off": (_text()[:-100], "malformed-json", ""),
    "empty": (b"", "malformed-json", ""),
    "not UTF-8": (_text(client_reference="x").replace(b'"x"', b'"\xff"'), "malformed-json", ""),
    "a field of another kind": (_text(fps="fast"), "invalid-request", "/fps"),
    "an unknown view": (_text(view="from above"), "invalid-request", "/view"),
    "a list that is no field": (_text(pictures=[1, 2]), "invalid-request", "/pictures"),
    "too few frames": (
        _text(keypoints=short_request()["keypoints"][:3]), "invalid-request", "/keypoints",
    ),
    "joints of another layout": (_text(layout="coco_17"), "invalid-request", "/keypoints/0"),
    "a coordinate that is a text": (
        _points(lambda p: ["left", *p[1:]]), "invalid-request", "/keypoints/0/0/0",
    ),
    "confidences in percent": (
        _points(lambda p: [p[0], p[1], 80]), "invalid-request", "/keypoints/0/0/2",
    ),
    "y upwards": (_points(lambda p: [p[0], -p[1], p[2]]), "invalid-request", "/keypoints"),
    "too long": (b" " * LONGEST + b"{}", "body-too-large", ""),
}  # fmt: skip


@pytest.mark.parametrize("how", BROKEN)
@pytest.mark.parametrize("end", [".json", ".ndjson"])
def test_a_broken_swing_is_told_with_its_place_and_what_is_wrong(
    tmp_path: Path, how: str, end: str
) -> None:
    text, code, pointer = BROKEN[how]
    if end == ".ndjson":
        text = text.replace(b"\n", b" ") or b"x"
    (tmp_path / f"clip{end}").write_bytes(text)
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert (refused.failure.code, refused.failure.pointer) == (code, pointer)
    assert refused.origin.line == (None if end == ".json" else 1)


def test_a_list_of_requests_is_told_as_that(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text(json.dumps([short_request(), short_request()]))
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert "list of 2 requests" in refused.failure.message
    assert ".ndjson" in refused.failure.fix


@pytest.mark.parametrize(
    ("line", "kind"),
    [("null", "null"), ("42", "a number"), ('"a"', "a string"), ("[]", "a list of 0")],
)
def test_a_line_that_holds_no_swing_at_all_is_told_as_that(
    tmp_path: Path, line: str, kind: str
) -> None:
    (tmp_path / "a.ndjson").write_text(line)
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert refused.failure.message == f"should be a JSON object, not {kind}"
    assert "one JSON object with keypoints" in refused.failure.fix


def test_a_list_of_a_pose_library_that_is_empty_holds_nobody(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text("[]")
    (refused,) = read(tmp_path, assumed={"fps": 60.0, "format": "coco_annotations"})
    assert isinstance(refused, Refused)
    assert "holds nobody" in refused.failure.message


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (_text().decode().encode("utf-16"), "UTF-16"),
        (_text().decode().encode("utf-16-be"), "UTF-16"),
        (_text(client_reference="?").replace(b"?", b"\xe4"), "is no UTF-8"),
        (b"PK\3\4" + _text(), "ZIP"),
        (bytes(4096), "zeros"),
        (b"PAR1" + _text(), "Parquet"),
    ],
)
def test_what_is_often_taken_for_json_is_told_as_what_it_is(
    tmp_path: Path, text: bytes, told: str
) -> None:
    (tmp_path / "clip.json").write_bytes(text)
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert refused.failure.code == "malformed-json"
    assert told in refused.failure.message


@pytest.mark.parametrize("club", ["utility", "Putter", 7])
def test_a_club_that_is_not_known_costs_no_swing_and_is_told(
    tmp_path: Path, club: str | int
) -> None:
    (tmp_path / "clip.json").write_bytes(_text(club=club))
    (swing,) = read(tmp_path, assumed={"club": "wedge"})
    assert isinstance(swing, ReadSwing), swing
    assert swing.recording.club is None
    assert [remark.code for remark in swing.recording.remarks] == ["club_not_known"]
    assert swing.carried == {CLUB_LABEL: str(club)}


def test_a_club_in_other_letters_is_the_club(tmp_path: Path) -> None:
    (tmp_path / "clip.json").write_bytes(_text(club="Fairway Wood"))
    (swing,) = read(tmp_path)
    assert isinstance(swing, ReadSwing), swing
    assert swing.recording.club == "fairway_wood"
    assert not swing.recording.remarks


@pytest.mark.parametrize(
    ("written", "known"),
    [
        ("1-Wood", "driver"),
        ("3 wood", "fairway_wood"),
        ("Holz 5", "fairway_wood"),
        ("4H", "hybrid"),
        ("Hybrid 3", "hybrid"),
        ("4 Iron", "long_iron"),
        ("7 iron", "mid_iron"),
        ("7i", "mid_iron"),
        ("Eisen 7", "mid_iron"),
        ("9-iron", "short_iron"),
        ("Pitching Wedge", "wedge"),
        ("SW", "wedge"),
    ],
)
def test_a_club_by_the_name_that_golfers_use_is_known_and_its_name_carried(
    tmp_path: Path, written: str, known: str
) -> None:
    (tmp_path / "clip.json").write_bytes(_text(club=written))
    (swing,) = read(tmp_path)
    assert isinstance(swing, ReadSwing), swing
    assert swing.recording.club == known
    assert not swing.recording.remarks
    assert swing.carried == {CLUB_LABEL: written}


def test_lines_are_numbered_as_in_the_file_and_broken_ones_lose_only_themselves(
    tmp_path: Path,
) -> None:
    good = json.dumps(short_request()).encode()
    lines = [good, b"", b"{", good, b" " * LONGEST + b"{}", good]
    (tmp_path / "a.ndjson").write_bytes(b"\n".join(lines))
    found = read(tmp_path)
    assert [(s.origin.line, isinstance(s, ReadSwing)) for s in found] == [
        (1, True),
        (3, False),
        (4, True),
        (5, False),
        (6, True),
    ]


@pytest.mark.parametrize("end", [".ndjson", ".ndjson.gz"])
@pytest.mark.parametrize("last", [b"", b"\n"])
def test_a_file_cut_into_pieces_holds_the_same_swings(
    tmp_path: Path, end: str, last: bytes
) -> None:
    text = ndjson(*({**short_request(), "client_reference": str(k)} for k in range(7)))
    text = text.rstrip(b"\n") + last
    (tmp_path / f"a{end}").write_bytes(gzip.compress(text) if end.endswith("gz") else text)
    for most in (1, 2, 3, 7, 100):
        found = read(tmp_path, most)
        assert [s.origin.line for s in found] == [1, 2, 3, 4, 5, 6, 7]
        assert [s.request.client_reference for s in found if isinstance(s, ReadSwing)] == [
            "0", "1", "2", "3", "4", "5", "6",
        ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("clips.ndjson", b"", "unreadable-file"),
        ("clips.ndjson.gz", gzip.compress(b"", mtime=0), "unreadable-file"),
        ("clips.ndjson.gz", b"", "malformed-gzip"),
        ("clips.parquet", b"", "malformed-parquet"),
    ],
)
def test_an_empty_file_is_told_and_never_taken_for_one_that_was_read(
    tmp_path: Path, name: str, content: bytes, code: str
) -> None:
    (tmp_path / name).write_bytes(content)
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert (refused.origin.path, refused.failure.code) == (name, code)
    units = units_of(tmp_path, File(name, 0), LONGEST)
    assert units.first.tolist() == [0]
    assert not units.those_of(units.first, units.fingerprint).any()


def test_packed_lines_that_break_off_are_read_up_to_there(tmp_path: Path) -> None:
    text = ndjson(*({**short_request(), "client_reference": str(k)} for k in range(5)))
    (tmp_path / "a.ndjson.gz").write_bytes(gzip.compress(text)[:-100])
    *good, broken = read(tmp_path, 2)
    assert all(isinstance(swing, ReadSwing) for swing in good)
    assert isinstance(broken, Refused)
    assert broken.failure.code == "malformed-gzip"
    assert broken.origin.line == len(good) + 1


def test_millions_of_empty_lines_are_a_few_pieces(tmp_path: Path) -> None:
    good = json.dumps(short_request()).encode()
    (tmp_path / "a.ndjson.gz").write_bytes(gzip.compress(b" \n" * 500_000 + good + b"\n" * 500_000))
    pieces = list(pieces_of(tmp_path, File("a.ndjson.gz", 0), 512))
    assert len(pieces) < 20
    assert [p.first + p.count for p in pieces[:-1]] == [p.first for p in pieces[1:]]
    (swing,) = read(tmp_path, 512)
    assert swing.origin.line == 500_001


def test_a_packed_file_is_unpacked_once_for_all_its_pieces_in_their_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = ndjson(*({**short_request(), "client_reference": str(k)} for k in range(6)))
    (tmp_path / "a.ndjson.gz").write_bytes(gzip.compress(text))
    reading = Reading(tmp_path, Reader(Limits(12, 1000), LONGEST))
    pieces = list(pieces_of(tmp_path, File("a.ndjson.gz", 0), 1))
    opened: list[str] = []

    def counted(file: BufferedReader, name: str) -> Bytes:
        opened.append(name)
        return unpacked(file, name)

    monkeypatch.setattr("service.archive.files.reading.unpacked", counted)
    found = [swing for piece in pieces for swing in reading.swings(piece)]
    assert [s.reference for s in found] == ["0", "1", "2", "3", "4", "5"]
    assert opened == ["a.ndjson.gz"]
    assert [s.reference for s in reading.swings(pieces[2])] == ["2"]


@pytest.mark.parametrize("name", ["a.json.gz", "a.ndjson.gz"])
def test_what_is_no_gzip_is_told(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(b"no gzip at all")
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert refused.failure.code == "malformed-gzip"


def test_codes_of_what_the_server_tells_too_are_the_same() -> None:
    assert set(CODES) <= set(PROBLEMS)


def test_what_a_file_holds_is_told_by_its_name() -> None:
    kinds = {name: File(name, 0).kind for name in ("a.JSON", "b.jsonl.gz", "c.parquet", "d.csv")}
    assert kinds == {
        "a.JSON": Kind.JSON,
        "b.jsonl.gz": Kind.LINES,
        "c.parquet": Kind.TABLE,
        "d.csv": None,
    }


def test_a_mark_of_byte_order_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_bytes(b"\xef\xbb\xbf" + json.dumps(short_request()).encode())
    (swing,) = read(tmp_path)
    assert isinstance(swing, ReadSwing), swing


@pytest.mark.parametrize("name", ["a.json", "b.ndjson"])
def test_what_is_packed_is_unpacked_whatever_its_name(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(gzip.compress(json.dumps(short_request()).encode()))
    (swing,) = read(tmp_path)
    assert isinstance(swing, ReadSwing), swing
