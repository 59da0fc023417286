"""Swings in Parquet files of any program."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from service.intake.many.reading import ReadSwing, Refused
from tests.archive.files.listed import read
from tests.archive.made import short_request


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
    assert np.isfinite(swing.recording.points).any()
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


@pytest.mark.parametrize("kind", [pa.large_list(pa.float64()), pa.list_(pa.float64())])
def test_keypoints_may_be_any_list_of_numbers(tmp_path: Path, kind: pa.DataType) -> None:
    told = table()
    other = told.set_column(0, "keypoints", told["keypoints"].cast(kind))
    pq.write_table(other, tmp_path / "a.parquet")
    (swing,) = read(tmp_path)
    assert isinstance(swing, ReadSwing), swing
