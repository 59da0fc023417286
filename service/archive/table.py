"""Swings as rows of a table: read without any JSON, and written once from other files."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import isnan
from pathlib import Path
from typing import IO, Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from service.analysis import LayoutError, resolve
from service.analysis.pose.points import ANATOMICAL
from service.analysis.types import FloatArray, Level, Remark, SwingRecording
from service.archive.schemas import CLIPS
from service.intake.errors import InvalidRequest, complaining

_BATCH: Final[int] = 64
"""Rows unpacked at once."""

_MOST_NAMES: Final[int] = 12
"""Columns that are named where the right one is missing."""

_AXES: Final[int] = 3
_NUMBERS: Final = ("fps", "playback_speed")
_WORDS: Final = ("coordinates", "view", "handedness", "intent", "club", "client_reference")
_NUMBERS_OF_A_ROW: Final = pa.list_(pa.float64())
_NOTED: Final = frozenset(CLIPS.names)


@dataclass(frozen=True)
class Row:
    """One swing of a table.

    Attributes
    ----------
    told
        The fields of a request, without its keypoints.
    flat : array of numbers
        Frame by frame, point by point: x, y, confidence.
    origin
        Path and line of the file that it was converted from.
    """

    told: dict[str, Any]
    flat: FloatArray
    carried: Mapping[str, str]
    origin: tuple[str, int | None] | None
    remarks: tuple[Remark, ...]

    def keypoints(self, layout: object) -> FloatArray:
        """The keypoints as an array of shape (n_frames, n_points, 3).

        Raises
        ------
        InvalidRequest
            When there is no layout, or the numbers are no whole frames of it.
        """
        columns = _columns(tuple(layout) if isinstance(layout, list) else layout)
        if self.flat.size % (_AXES * columns):
            with complaining() as complaints:
                complaints.add(
                    "/keypoints",
                    f"has {self.flat.size} numbers, no whole frames of {columns} points",
                    "Give x, y and confidence of every point of the layout in every frame.",
                )
        return self.flat.reshape(-1, columns, _AXES)

    @staticmethod
    def as_lists(keypoints: FloatArray) -> list[Any]:
        """The same as a request has it."""
        return [
            [
                None
                if isnan(x) or isnan(y)
                else [x, y]
                if isnan(confidence)
                else [x, y, confidence]
                for x, y, confidence in frame
            ]
            for frame in keypoints.tolist()
        ]


def rows_of_group(path: Path | IO[bytes], group: int, first: int = 0) -> Iterator[Row]:
    """The rows of one row group from one on, some unpacked at a time.

    Raises
    ------
    pyarrow.ArrowException, OSError, ValueError
        When the file is no table, or lacks the columns of :data:`service.archive.schemas.CLIPS`.
    """
    with pq.ParquetFile(path, page_checksum_verification=True) as table:
        schema = table.schema_arrow
        _refuse_other_columns(schema)
        wanted = [name for name in schema.names if name in _NOTED or _plain(schema, name)]
        for batch in table.iter_batches(_BATCH, row_groups=[group], columns=wanted):
            yield from _rows(batch.slice(min(first, batch.num_rows)))
            first = max(0, first - batch.num_rows)


def sizes_of_groups(path: Path | IO[bytes]) -> list[int]:
    """How many rows each row group has.

    Raises
    ------
    pyarrow.ArrowException, OSError
        When the file is no table.
    """
    with pq.ParquetFile(path) as table:
        return [table.metadata.row_group(group).num_rows for group in range(table.num_row_groups)]


def clips_table(rows: Sequence[dict[str, Any]]) -> pa.Table:
    """Rows made by :func:`clip_row` as a table."""
    return pa.Table.from_pylist(list(rows), schema=CLIPS)


def clip_row(
    recording: SwingRecording,
    told: Mapping[str, Any],
    carried: Mapping[str, str],
    origin: tuple[str, int | None],
) -> dict[str, Any]:
    """A recording as a row: the points that are ever seen, in pixels.

    Parameters
    ----------
    told
        The fields of its request.
    """
    seen = np.flatnonzero(~np.isnan(recording.points[..., 0]).all(axis=0))
    confidence = recording.confidence[:, seen, None]
    values = np.concatenate([recording.points[:, seen], confidence], axis=-1)
    asked = told.get("asked") or {}
    return {
        "keypoints": values.astype(np.float32).ravel(),
        "joints": [ANATOMICAL[k] for k in seen],
        "timestamps": told.get("timestamps"),
        **{name: told.get(name) for name in (*_NUMBERS, *_WORDS)},
        "coordinates": "pixels",
        "stop_at": asked.get("stop_at"),
        "origin_path": origin[0],
        "origin_line": origin[1],
        "remarks": [
            {"code": r.code, "level": str(r.level), "text": r.text, "fix": r.fix}
            for r in recording.remarks
        ],
        "carried": list(carried.items()),
    }


def _rows(batch: pa.RecordBatch) -> Iterator[Row]:
    keypoints = batch.column("keypoints").cast(_NUMBERS_OF_A_ROW)
    rest = batch.drop_columns(["keypoints"]).to_pylist()
    flat = keypoints.values.to_numpy(zero_copy_only=False)
    ends = keypoints.offsets.to_numpy()
    for number, row in enumerate(rest):
        numbers = flat[ends[number] : ends[number + 1]]
        yield Row(_told(row), numbers, _carried(row), _origin(row), _remarks(row))


def _told(row: Mapping[str, Any]) -> dict[str, Any]:
    names = (*_NUMBERS, *_WORDS, "timestamps")
    told: dict[str, Any] = {n: row[n] for n in names if row.get(n) is not None}
    told["keypoints"] = None
    told["layout"] = row.get("layout") or row.get("joints")
    if row.get("stop_at") is not None:
        told["asked"] = {"stop_at": row["stop_at"]}
    if row.get("image_width") is not None or row.get("image_height") is not None:
        told["image_size"] = {"width": row.get("image_width"), "height": row.get("image_height")}
    return told


def _carried(row: Mapping[str, Any]) -> dict[str, str]:
    others = {n: str(v) for n, v in row.items() if n not in _NOTED and v is not None}
    return {**others, **{n: v for n, v in row.get("carried") or () if v is not None}}


def _origin(row: Mapping[str, Any]) -> tuple[str, int | None] | None:
    path = row.get("origin_path")
    return None if path is None else (path, row.get("origin_line"))


def _remarks(row: Mapping[str, Any]) -> tuple[Remark, ...]:
    told = row.get("remarks") or ()
    return tuple(Remark(r["code"], Level(r["level"]), r["text"], r["fix"]) for r in told)


def _refuse_other_columns(schema: pa.Schema) -> None:
    """Raise ``ValueError`` where columns of our names hold what can't be read as they say."""
    names = schema.names
    if "keypoints" not in names:
        there = ", ".join(names[:_MOST_NAMES]) + (", ..." if len(names) > _MOST_NAMES else "")
        raise ValueError(f"the table has no column keypoints; it has {there or 'none'}")
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"several columns are called {', '.join(twice)}")
    if not _is_numbers(schema.field("keypoints").type):
        kind = schema.field("keypoints").type
        raise ValueError(f"keypoints are {kind}, not one flat list of numbers a row")
    for name, is_right in _NESTED.items():
        kind = schema.field(name).type if name in names else pa.null()
        if not (pa.types.is_null(kind) or is_right(kind)):
            raise ValueError(f"the column {name} is {kind}, not {CLIPS.field(name).type}")


def _is_numbers(kind: pa.DataType) -> bool:
    number = pa.types.is_floating, pa.types.is_integer
    return _is_list(kind) and any(is_number(kind.value_type) for is_number in number)


def _is_list(kind: pa.DataType) -> bool:
    types = pa.types
    return bool(types.is_list(kind) or types.is_large_list(kind) or types.is_fixed_size_list(kind))


def _is_remarks(kind: pa.DataType) -> bool:
    wanted = {field.name for field in CLIPS.field("remarks").type.value_type}
    return (
        _is_list(kind)
        and pa.types.is_struct(kind.value_type)
        and wanted <= {field.name for field in kind.value_type}
    )


_NESTED: Final[Mapping[str, Callable[[pa.DataType], bool]]] = {
    "carried": pa.types.is_map,
    "remarks": _is_remarks,
    "origin_path": lambda kind: pa.types.is_string(kind) or pa.types.is_large_string(kind),
    "origin_line": pa.types.is_integer,
}
"""Columns taken as they are, and what they must be; the others are read as a request is."""


def _plain(schema: pa.Schema, name: str) -> bool:
    """Whether a column holds texts, numbers or days, which can be carried along."""
    kind = schema.field(name).type
    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    return not (pa.types.is_nested(kind) or pa.types.is_binary(kind))


@lru_cache(maxsize=64)
def _columns(layout: str | tuple[str | None, ...] | None) -> int:
    """How many points a frame has."""
    try:
        if isinstance(layout, str | tuple) and layout:
            return len(resolve(layout))
        problem = "is missing, or is neither a text nor a list of texts"
    except LayoutError as error:
        problem = f"can't be used: {error}"
    with complaining() as complaints:
        complaints.add("/layout", problem, "Name a layout in layout, or the points in joints.")
    raise InvalidRequest(())  # never reached: the complaint is raised
