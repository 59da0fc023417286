"""Raw JSON points to arrays, each number checked, in one pass over the good case.

A clip holds tens of thousands of numbers, so the good case is checked on flat lists and
arrays; only when that fails are the points walked one by one to say which is wrong.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from typing import Any, Final

import numpy as np

from service.analysis.types import BoolArray, FloatArray
from service.intake.errors import Alike, Complaints, json_pointer, kind_of, telling_alike_once

MAX_COORDINATE: Final[float] = 100_000.0
"""Largest coordinate taken, in pixels either way from the corner of the image."""

MAX_NORMALISED: Final[float] = 10.0
"""Largest normalised coordinate taken, in image sizes; points may lie outside the image."""

AXES: Final[int] = 3
"""Numbers of a point that has all: x, y and confidence."""

_BLOCK: Final[int] = 250
"""Frames read at once; other threads get their turn in between."""

_ABSENT: list[object] = [None, None, None]
_POINT_FIX = "Send [x, y] or [x, y, confidence] without a depth, or null for a missing point."


@dataclass(frozen=True)
class SentPoints:
    """Points over time.

    Attributes
    ----------
    values : array of shape (n_frames, n_columns, 2)
        As sent; NaN where a point is missing.
    confidence : array of shape (n_frames, n_columns)
        From 0 to 1; NaN where none was sent.
    """

    values: FloatArray
    confidence: FloatArray

    @cached_property
    def are_zero(self) -> BoolArray:
        """Which points are exactly (0, 0), shape (n_frames, n_columns)."""
        return np.asarray((self.values[..., 0] == 0) & (self.values[..., 1] == 0))


def read_keypoints(
    raw: Sequence[object] | FloatArray, n_columns: int, limit: float, complaints: Complaints
) -> SentPoints | None:
    """Read ``keypoints``: frames of ``n_columns`` points each.

    Parameters
    ----------
    raw
        The frames, as JSON values or as an array of shape (n_frames, n_columns, 3) with NaN for
        what was not sent.
    n_columns
        Points a frame, as the layout has it.
    limit
        Largest coordinate taken.
    complaints
        Told of everything wrong; then the return value is ``None``.
    """
    if isinstance(raw, np.ndarray):
        return _read_array(raw, n_columns, limit, complaints)
    with telling_alike_once(complaints) as wrong:
        frames = _fitting_frames(raw, n_columns, wrong)
        tables = [
            _read_block(frames, first, n_columns, limit, wrong)
            for first in range(0, len(frames), _BLOCK)
        ]
    read = [table for table in tables if table is not None]
    if len(read) < len(tables):
        return None
    return _tracks(np.concatenate(read).reshape(len(raw), n_columns, AXES))


def _read_array(
    table: FloatArray, n_columns: int, limit: float, complaints: Complaints
) -> SentPoints | None:
    if table.shape[1] != n_columns:
        complaints.add(
            "/keypoints",
            f"has {table.shape[1]} points a frame, not {n_columns}",
            f"Send {n_columns} points in every frame, as the layout has, with NaN or null for a "
            "missing one.",
        )
        return None
    points = table.reshape(-1, AXES)
    x, y, confidence = np.ascontiguousarray(points.T)
    # Two columns compared are several times as fast as `any` along an axis of two.
    bad = (np.abs(x) > limit) | (np.abs(y) > limit) | (confidence < 0) | (confidence > 1)
    with telling_alike_once(complaints) as wrong:
        for index in np.flatnonzero(bad).tolist():
            point = [None if math.isnan(number) else number for number in points[index].tolist()]
            suffix, problem, fix = _wrong_with(point, limit) or ("", "is no point", _POINT_FIX)
            place = json_pointer("keypoints", *divmod(index, n_columns))
            wrong.add(place + suffix, problem, fix)
    return None if bad.any() else _tracks(table)


def _read_block(
    frames: Sequence[list[object]], first: int, n_columns: int, limit: float, wrong: Alike
) -> FloatArray | None:
    """The points of some frames, shape (n_points, 3); ``None`` after complaints."""

    def pointer_to(index: int) -> str:
        return json_pointer("keypoints", *divmod(first * n_columns + index, n_columns))

    points = list(chain.from_iterable(frames[first : first + _BLOCK]))
    return _read_points(points, pointer_to, limit, wrong)


def read_club_point(
    raw: object, name: str, n_frames: int, limit: float, complaints: Complaints
) -> SentPoints | None:
    """Read one of ``club_points``: one point a frame; tracks of a single column.

    Complaints and return value are as in :func:`read_keypoints`.
    """
    where = json_pointer("club_points", name)
    if not isinstance(raw, list) or len(raw) != n_frames:
        complaints.add(
            where,
            f"is {kind_of(raw)}, not a list of {n_frames} points",
            "Send one point or null for every frame of keypoints.",
        )
        return None
    with telling_alike_once(complaints) as wrong:
        table = _read_points(raw, lambda index: f"{where}/{index}", limit, wrong)
    return None if table is None else _tracks(table.reshape(n_frames, 1, AXES))


def without_placeholders(tracks: SentPoints) -> SentPoints:
    """Drop points that stand for "not found".

    Many estimators write (0, 0) for a point they did not find. Such a point is dropped
    when its confidence is 0 or not sent, and whatever its confidence in a frame that
    holds nothing else.
    """
    zero = tracks.are_zero
    if not zero.any():
        return tracks
    unsure = ~(tracks.confidence > 0)
    empty_frame = (zero | np.isnan(tracks.values[..., 0])).all(axis=1, keepdims=True)
    dropped = zero & (unsure | empty_frame)
    return SentPoints(np.where(dropped[..., None], np.nan, tracks.values), tracks.confidence)


def _fitting_frames(frames: Sequence[Any], n_columns: int, wrong: Alike) -> Sequence[list[object]]:
    """The frames, with one of nobody for each that is empty or no list of ``n_columns``."""
    if set(map(type, frames)) <= {list} and set(map(len, frames)) <= {n_columns}:
        return frames
    fitting: list[list[object]] = []
    for index, frame in enumerate(frames):
        if isinstance(frame, list) and len(frame) == n_columns:
            fitting.append(frame)
            continue
        fitting.append([None] * n_columns)
        if frame is None or frame == []:
            continue
        wrong.add(
            json_pointer("keypoints", index),
            f"is {kind_of(frame)}, not a list of {n_columns} points",
            f"Send {n_columns} points in every frame, as the layout has, "
            "with null for a missing one; null for a frame in which nobody was found.",
        )
    return fitting


def _read_points(
    points: Sequence[object],
    pointer_to: Callable[[int], str],
    limit: float,
    wrong: Alike,
) -> FloatArray | None:
    """Array of shape (n_points, 3), NaN where nothing was sent; ``None`` after complaints."""
    table = _table(points)
    if table is not None and _in_range(table, limit):
        return table
    for index, point in enumerate(points):
        found = _wrong_with(point, limit)
        if found is not None:
            suffix, problem, fix = found
            wrong.add(pointer_to(index) + suffix, problem, fix)
    return None


def _table(points: Sequence[object]) -> FloatArray | None:
    """The points as an array of shape (n_points, 3), or ``None`` if any is no point."""
    kinds = set(map(type, points))
    if not kinds <= {list, type(None)}:
        return None
    rows: Sequence[Any] = points
    if type(None) in kinds:
        rows = [_ABSENT if row is None else row for row in rows]
    lengths = set(map(len, rows))
    if not lengths <= {2, AXES}:
        return None
    if 2 in lengths:
        rows = [row if len(row) == AXES else (*row, None) for row in rows]
    numbers = list(chain.from_iterable(rows))
    table = _all_numbers(numbers) if lengths == {AXES} else None
    if table is not None:
        return table.reshape(-1, AXES)
    kinds = set(map(type, numbers))
    if not kinds <= {int, float, type(None)}:
        return None
    try:
        table = np.array(numbers, dtype=np.float64)
    except OverflowError:
        return None
    absent = numbers.count(None) if type(None) in kinds else 0
    sent_nan = np.count_nonzero(np.isnan(table)) != absent
    return None if sent_nan else table.reshape(-1, AXES)


def _all_numbers(numbers: Sequence[Any]) -> FloatArray | None:
    """The numbers as an array, or ``None`` if any is no finite number.

    Truth values are 0 and 1, and rarely is anything else.
    """
    table = all_finite(numbers)
    if table is None:
        return None
    doubtful = np.flatnonzero((table == 0.0) | (table == 1.0)).tolist()
    return None if any(type(numbers[k]) is bool for k in doubtful) else table


def all_finite(numbers: Sequence[Any]) -> FloatArray | None:
    """Numbers and truth values as an array, or ``None`` if any is something else or not finite.

    Packing takes a third of the time of looking at the kind of each and numpy's own conversion.
    """
    try:
        table = np.frombuffer(struct.pack(f"{len(numbers)}d", *numbers))
    except (struct.error, OverflowError):
        return None
    return table if np.isfinite(table).all() else None


def _in_range(table: FloatArray, limit: float) -> bool:
    confidence = table[:, 2]
    return not (
        (np.abs(table[:, :2]) > limit).any() or (confidence < 0).any() or (confidence > 1).any()
    )


def _wrong_with(point: object, limit: float) -> tuple[str, str, str] | None:
    """Where in a point, what, and the fix; ``None`` for a good point."""
    if point is None:
        return None
    if not isinstance(point, list) or len(point) not in (2, AXES):
        return "", f"is {kind_of(point)}, not a point", _POINT_FIX
    for axis, number in enumerate(point):
        wrong = _wrong_with_number(number, axis, limit)
        if wrong is not None:
            return f"/{axis}", *wrong
    return None


def _wrong_with_number(number: object, axis: int, limit: float) -> tuple[str, str] | None:
    if number is None:
        return None
    if isinstance(number, bool) or not isinstance(number, int | float):
        return f"is {kind_of(number)}, not a number", _POINT_FIX
    if isinstance(number, float) and not math.isfinite(number):
        return "is NaN or infinite", "Send null for what is missing."
    if axis == AXES - 1 and number < 0:
        return (
            "is a confidence below 0",
            "Send null for a missing point, and a confidence of 0 to 1 or none with any other; a "
            "depth is not taken.",
        )
    if axis == AXES - 1 and number > 1:
        return (
            "is a confidence outside 0 to 1",
            "Scale confidences to 0 to 1, or leave them out; a depth is not taken.",
        )
    if axis < AXES - 1 and abs(number) > limit:
        return (
            f"is a coordinate beyond ±{limit:g}",
            f"Send {'image fractions' if limit == MAX_NORMALISED else 'pixels'}, as "
            "`coordinates` says, and null for a missing point.",
        )
    return None


def _tracks(table: FloatArray) -> SentPoints:
    values = table[..., :2].copy()
    incomplete = np.isnan(values[..., 0]) | np.isnan(values[..., 1])
    if incomplete.any():
        values[incomplete] = np.nan
    return SentPoints(values, table[..., 2])
