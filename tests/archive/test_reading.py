"""What an archive may hold, what can't be read of it, and why."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from io import BufferedReader
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from service.api.http.problems.kinds import PROBLEMS
from service.archive.planning.listing import File, Piece, files_of, pieces_of
from service.archive.planning.units import units_of
from service.archive.reading import Reading
from service.intake.many.errors import CODES
from service.intake.many.files import Bytes, Kind, unpacked
from service.intake.many.reading import CLUB_LABEL, Reader, ReadSwing, Refused
from service.intake.recording import Limits
from tests.archive.made import ndjson, short_request
from tests.intake.test_formats import CASES, HEIGHT, WIDTH, plain

LONGEST = 1 << 20


def read(archive: Path, most: int = 100, **options: Any) -> list[ReadSwing | Refused]:
    """Every swing of a folder."""
    reader = Reader(Limits(12, 1000), LONGEST, options.get("assumed", {}))
    reading = Reading(archive, reader)
    found: list[ReadSwing | Refused] = []
    for path in sorted(p for p in archive.rglob("*") if p.is_file()):
        file = File(path.relative_to(archive).as_posix(), 0)
        for piece in pieces_of(archive, file, most):
            found += reading.swings(piece)
    return found


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


def write_frames(folder: Path, frames: list[Any], name: str = "clip_") -> list[Path]:
    """A clip in one file a frame, as OpenPose writes it."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = [folder / f"{name}{number:012}_keypoints.json" for number in range(len(frames))]
    for path, frame in zip(paths, frames, strict=True):
        path.write_text(json.dumps(frame))
    return paths


def _openpose() -> list[Any]:
    joints, write, _ = CASES["openpose_json"]
    frames = write(plain(joints))
    assert isinstance(frames, list)
    return frames


def _listed(archive: Path, longest: int = LONGEST) -> list[ReadSwing | Refused]:
    reading = Reading(archive, Reader(Limits(12, 1000), longest, {"fps": 30.0}))
    pieces = (piece for file in files_of(archive) for piece in pieces_of(archive, file, 100))
    return [swing for piece in pieces for swing in reading.swings(piece)]


def test_a_clip_in_one_file_a_frame_is_read_as_the_list_of_its_frames(tmp_path: Path) -> None:
    frames = _openpose()
    (tmp_path / "whole").mkdir()
    (tmp_path / "whole" / "clip.json").write_text(json.dumps(frames))
    folder = tmp_path / "frames"
    write_frames(folder, frames)
    write_frames(folder, frames[:20], name="other_")
    write_frames(folder, frames, name="")
    nameless, clip, other = _listed(folder)
    (whole,) = _listed(tmp_path / "whole")
    assert isinstance(clip, ReadSwing), clip
    assert isinstance(whole, ReadSwing)
    assert isinstance(nameless, ReadSwing)
    assert isinstance(other, ReadSwing)
    assert clip.origin.path == "clip_000000000000_keypoints.json"
    np.testing.assert_array_equal(clip.recording.points, whole.recording.points)
    np.testing.assert_array_equal(nameless.recording.points, whole.recording.points)
    np.testing.assert_array_equal(other.recording.points, whole.recording.points[:20])


def test_a_frame_that_has_no_file_holds_nobody_and_the_others_keep_their_times(
    tmp_path: Path,
) -> None:
    paths = write_frames(tmp_path, _openpose())
    paths[5].unlink()
    (clip,) = _listed(tmp_path)
    assert isinstance(clip, ReadSwing), clip
    assert np.isnan(clip.recording.points[5]).all()
    assert len(clip.recording.times) == len(paths)


def test_a_clip_with_a_broken_frame_is_told_once_with_that_frame(tmp_path: Path) -> None:
    paths = write_frames(tmp_path, _openpose())
    paths[5].write_text('{"people": [')
    (refused,) = _listed(tmp_path)
    assert isinstance(refused, Refused)
    assert refused.failure.code == "malformed-json"
    assert paths[5].name in refused.failure.message


def test_frames_numbered_far_apart_take_no_memory(tmp_path: Path) -> None:
    write_frames(tmp_path, _openpose()[:2])
    (tmp_path / "clip_999999999999_keypoints.json").write_text("{}")
    (refused,) = _listed(tmp_path)
    assert isinstance(refused, Refused)
    assert refused.failure.code == "body-too-large"


@pytest.mark.parametrize("club", ["utility", "Eisen 7", 7])
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

    monkeypatch.setattr("service.archive.reading.unpacked", counted)
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


def table(**columns: Any) -> pa.Table:
    """One swing as a table of a few columns, as any program may write it."""
    told = short_request()
    flat = [v for f in told["keypoints"] for p in f for v in (p or [None, None, None])]
    plain_columns = {
        "keypoints": [flat],
        "joints": [told["layout"]],
        "timestamps": [told["timestamps"]],
    }
    return pa.table({**plain_columns, **{name: [value] for name, value in columns.items()}})


def test_a_table_of_any_program_is_read_with_its_other_columns(tmp_path: Path) -> None:
    pq.write_table(table(coach="Ada", age=41, view="face_on"), tmp_path / "a.parquet")
    (swing,) = read(tmp_path)
    assert isinstance(swing, ReadSwing), swing
    (tmp_path / "a.parquet").unlink()
    (tmp_path / "a.json").write_text(json.dumps(short_request()))
    (other,) = read(tmp_path)
    assert isinstance(other, ReadSwing)
    assert (swing.recording.points[~(swing.recording.points != swing.recording.points)]).size
    assert (
        abs(swing.recording.points - other.recording.points)[swing.recording.confidence > 0].max()
        == 0
    )
    assert dict(swing.carried) == {"coach": "Ada", "age": "41"}
    assert swing.recording.view == "face_on"
    assert swing.origin.line == 1


@pytest.mark.parametrize(
    ("columns", "pointer"),
    [
        ({"view": "from above"}, "/view"),
        ({"keypoints": [1.0] * 100}, "/keypoints"),
        ({"joints": None}, "/layout"),
        ({"layout": "no_such"}, "/layout"),
        ({"layout": 17}, "/layout"),
        ({"timestamps": None}, "/fps"),
        ({"coordinates": "normalised"}, "/image_size"),
    ],
)
def test_a_row_that_is_wrong_is_told_by_its_field(
    tmp_path: Path, columns: dict[str, Any], pointer: str
) -> None:
    pq.write_table(table(**columns), tmp_path / "a.parquet")
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert (refused.failure.code, refused.failure.pointer) == ("invalid-request", pointer)


@pytest.mark.parametrize(("axis", "value"), [(0, float("inf")), (2, 80.0), (1, 1e9)])
def test_a_number_that_is_wrong_is_told_by_its_place(
    tmp_path: Path, axis: int, value: float
) -> None:
    told = table()
    flat = told["keypoints"].to_pylist()[0]
    flat[3 * len(short_request()["layout"]) * 2 + axis] = value
    pq.write_table(table(keypoints=flat), tmp_path / "a.parquet")
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert refused.failure.pointer == f"/keypoints/2/0/{axis}"


@pytest.mark.parametrize("content", [b"", b"PAR1 no table PAR1"])
def test_what_is_no_table_is_told(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "a.parquet").write_bytes(content)
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert refused.failure.code == "malformed-parquet"


def test_a_table_of_something_else_is_told(tmp_path: Path) -> None:
    pq.write_table(pa.table({"score": [71, 69]}), tmp_path / "a.parquet")
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert "no column keypoints; it has score" in refused.failure.message


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


def test_keypoints_in_lists_of_lists_are_told(tmp_path: Path) -> None:
    nested = pa.table({"keypoints": [short_request()["keypoints"][:1]], "layout": ["coco_17"]})
    pq.write_table(nested, tmp_path / "a.parquet")
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert "not one flat list of numbers" in refused.failure.message


@pytest.mark.parametrize(
    ("columns", "told"),
    [
        ({"carried": "x"}, "the column carried is string, not map"),
        ({"remarks": [1]}, "the column remarks is list"),
        ({"origin_path": 1}, "the column origin_path is int64, not string"),
    ],
)
def test_columns_of_ours_that_hold_something_else_are_told_by_name(
    tmp_path: Path, columns: dict[str, Any], told: str
) -> None:
    pq.write_table(table(**columns), tmp_path / "a.parquet")
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert refused.failure.code == "malformed-parquet"
    assert told in refused.failure.message


def test_two_columns_of_one_name_are_told(tmp_path: Path) -> None:
    told = table()
    pq.write_table(told.append_column("keypoints", told["keypoints"]), tmp_path / "a.parquet")
    (refused,) = read(tmp_path)
    assert isinstance(refused, Refused)
    assert "several columns are called keypoints" in refused.failure.message


def test_a_mark_of_byte_order_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_bytes(b"\xef\xbb\xbf" + json.dumps(short_request()).encode())
    (swing,) = read(tmp_path)
    assert isinstance(swing, ReadSwing), swing


@pytest.mark.parametrize("name", ["a.json", "b.ndjson"])
def test_what_is_packed_is_unpacked_whatever_its_name(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(gzip.compress(json.dumps(short_request()).encode()))
    (swing,) = read(tmp_path)
    assert isinstance(swing, ReadSwing), swing


@pytest.mark.parametrize("kind", [pa.large_list(pa.float64()), pa.list_(pa.float64())])
def test_keypoints_may_be_any_list_of_numbers(tmp_path: Path, kind: pa.DataType) -> None:
    told = table()
    other = told.set_column(0, "keypoints", told["keypoints"].cast(kind))
    pq.write_table(other, tmp_path / "a.parquet")
    (swing,) = read(tmp_path)
    assert isinstance(swing, ReadSwing), swing
