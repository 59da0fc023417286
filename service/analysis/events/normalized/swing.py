"""A swing laid out along its position coordinate instead of along its frames."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.normalized.grid import WHOLE, grid_index
from service.analysis.pose.points import Point
from service.analysis.types import BoolArray, FloatArray, View

Places = tuple[tuple[Point, tuple[int, ...]], ...]
"""The points whose errors are drawn, each with the places of the grid at which they are."""
EVERYWHERE: Final[Places] = tuple((point, WHOLE) for point in Point)


_AT_ONCE: Final[int] = 32768
"""Numbers that stay there along with as many that are reckoned on the way, 256 kB each."""


@dataclass(frozen=True, eq=False)
class Columns:
    """What the columns of drawn samples stand for: one point at one place of the grid each.

    Attributes
    ----------
    points, places : arrays of shape (n_columns,)
    first : the first column of each point, whose columns lie together
    drawn_at : the places of each point
    unseen : points that would be drawn, were they ever seen
    rows : array of shape (n_columns,)
        Which of all points that are seen it is.
    """

    points: NDArray[np.intp]
    places: NDArray[np.intp]
    first: Mapping[Point, int]
    drawn_at: Mapping[Point, tuple[int, ...]]
    unseen: frozenset[Point]
    rows: NDArray[np.intp]


@lru_cache(maxsize=64)
def columns_of(drawn: Places, seen: tuple[int, ...]) -> Columns:
    """The columns of those points that are seen, told in order."""
    kept = [(point, places) for point, places in drawn if point in seen]
    sizes = np.array([len(places) for _, places in kept], dtype=np.intp)
    ends = np.cumsum(sizes).tolist()
    points = np.repeat(np.array([p for p, _ in kept], dtype=np.intp), sizes)
    return Columns(
        points=points,
        places=np.array([place for _, places in kept for place in places], dtype=np.intp),
        first={p: end - len(places) for (p, places), end in zip(kept, ends, strict=True)},
        drawn_at=dict(kept),
        unseen=frozenset(point for point, _ in drawn if point not in seen),
        rows=np.array(seen, dtype=np.intp).searchsorted(points),
    )


def blocks(samples: FloatArray) -> Iterator[slice]:
    """The columns of samples, shape (n_columns, ...), a few at a time: what is done to them in
    several steps is done while they are in the processor's nearest memory."""
    few = max(1, _AT_ONCE * len(samples) // max(samples.size, 1))
    return (slice(k, k + few) for k in range(0, len(samples), few))


@lru_cache(maxsize=2048)
def _where(columns: Columns, point: Point, places: tuple[int, ...]) -> NDArray[np.intp]:
    """The columns of a point at some places.

    Raises
    ------
    LookupError
        Where the point's errors are not drawn.
    """
    own = {place: k for k, place in enumerate(columns.drawn_at[point], columns.first[point])}
    return np.array([own[place] for place in places], dtype=np.intp)


@dataclass(frozen=True)
class NormalizedSwing:
    """Canonical poses of a swing sampled on ``GRID`` of :mod:`.grid`, with what noise may do to
    them.

    The first sample of a swing is the best estimate; the others are drawn from the keypoint noise
    and the timing uncertainty, so that the spread of any measure over the samples is its
    uncertainty. They are drawn where measures look and nowhere else.

    Several swings, filmed from one side and showing the same points, may be laid end to end: each
    sample is a row by itself, so that what is written for one swing holds for many.

    Attributes
    ----------
    poses : array of shape (n_swings, n_points, n_grid, 2)
        The best estimate in body heights, y up. Face-on, x grows toward the target; down the
        line, x grows from the player toward the ball. NaN where a point is missing. All x of a
        point lie together in memory, and all y, so that reckoning with either runs along it.
    samples : array of shape (n_columns, 2, n_rows)
        x and y of points at places of the grid; of each swing in turn all samples, the best
        estimate first. All rows of a number lie together, as there are more of them than of the
        places at which a measure looks.
    columns : Columns
        Which points and places these are.
    times : array of shape (n_rows, n_grid)
        Seconds; NaN beyond the positions that were found.
    missing : boolean array of shape (n_swings, n_points, n_grid)
        Where a point is missing from the best estimate.
    view : View
        Where the camera stands.
    shown : the places of the grid that paths of points show
    lines : lines of the body already worked out, by what works them out
    """

    poses: FloatArray
    samples: FloatArray
    columns: Columns
    times: FloatArray
    missing: BoolArray
    view: View
    shown: tuple[int, ...] = WHOLE
    lines: dict[Callable[[NormalizedSwing], FloatArray], FloatArray] = field(
        default_factory=dict, compare=False, repr=False
    )

    def __len__(self) -> int:
        """How many swings are laid end to end."""
        return len(self.poses)

    def one(self, number: int) -> NormalizedSwing:
        """One of the swings by itself; its arrays are parts of these."""
        n_samples = len(self.times) // len(self)
        rows = slice(number * n_samples, (number + 1) * n_samples)
        own = slice(number, number + 1)
        return NormalizedSwing(
            self.poses[own],
            self.samples[..., rows],
            self.columns,
            self.times[rows],
            self.missing[own],
            self.view,
        )

    def by_swing(self, rows: FloatArray) -> FloatArray:
        """What has the shape (n_rows, ...) as (n_swings, n_samples, ...)."""
        return rows.reshape(len(self.poses), -1, *rows.shape[1:])

    @property
    def drawn(self) -> BoolArray:
        """Rows that are drawn, not best estimates, shape (n_rows,)."""
        drawn = np.ones((len(self), len(self.times) // len(self)), dtype=bool)
        drawn[:, 0] = False
        return drawn.reshape(-1)

    def at(self, places: tuple[int, ...]) -> NormalizedSwing:
        """The paths of points at some places of the grid alone; what is told of one position and of
        times stays as it is."""
        if places == self.shown:
            return self
        return NormalizedSwing(
            self.poses, self.samples, self.columns, self.times, self.missing, self.view, places
        )

    def point(self, point: Point) -> FloatArray:
        """Path of one point, shape (n_rows, n_places, 2).

        Raises
        ------
        LookupError
            Where its errors are not drawn at all of these places.
        """
        return self._drawn(point, self.shown)

    def point_at(self, point: Point, position: float) -> FloatArray:
        """One point at one position coordinate, shape (n_rows, 2)."""
        return self._drawn(point, (grid_index(position),))[:, 0]

    def time_at(self, position: float) -> FloatArray:
        """Times of one position coordinate, shape (n_rows,)."""
        return self.times[:, grid_index(position)]

    def _drawn(self, point: Point, places: tuple[int, ...]) -> FloatArray:
        if point in self.columns.unseen:
            return np.full((self.samples.shape[2], len(places), 2), np.nan)
        taken = self.samples.take(_where(self.columns, point, places), axis=0)
        return taken.transpose(2, 0, 1)
