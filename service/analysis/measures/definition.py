"""What a measure is, and how one is taken with its uncertainty.

A measure reads a :class:`~service.analysis.events.normalized.NormalizedSwing`, whose samples
carry the keypoint noise and the timing uncertainty; its own uncertainty is the spread over the
samples. Lengths are told in percent of body height unless a measure names another unit.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from math import ceil, floor, isnan
from typing import Final

import numpy as np

from service.analysis.events.normalized import GRID, WHOLE, NormalizedSwing, grid_index
from service.analysis.pose.points import Point
from service.analysis.types import (
    FloatArray,
    Reason,
    View,
)

BODY_PERCENT: Final[str] = "% of body height"
BOTH_VIEWS: Final[tuple[View, ...]] = (View.FACE_ON, View.DOWN_THE_LINE)
SHAPE_PLACES: Final[int] = 5
"""Places at which the shape of a signal is told."""
_ABOUT: Final[float] = 0.5
"""Positions before and after a measure's window at the first and the last of them."""

Signal = Callable[[NormalizedSwing], FloatArray]


class Reduce(StrEnum):
    """How a measure's signal over its window becomes one number."""

    MAX = "max"
    MEAN = "mean"


@dataclass(frozen=True, eq=False)
class Measure:
    """Something measured over a window of positions; each is one of its kind.

    Attributes
    ----------
    name, title, unit, description
        ``unit`` is spelled out (``degrees``, ``% of body height``, ``seconds`` ...).
    views
        The camera views in which it can be told.
    needs
        The points without which it can't be measured.
    start, end
        Window in position coordinates; equal for a measure at one position.
    reduce
        How the values in the window become one.
    signal
        Function of a :class:`NormalizedSwing` giving an array of shape
        (n_rows, n_grid), in ``unit``.
    against
        Position coordinates outside the window that it also looks at.
    observed
        Numbers of positions that must be observed for it, not inferred.
    unsigned
        Whether the signal can't be negative, as the bend of a joint: noise then makes it larger.
    ratio
        Whether it is a ratio: its errors are shares of it, so that it is held against thresholds by
        its logarithm.
    doubt
        How many times its spread over the draws the uncertainty is, in each view where they differ:
        so that two hold some 95 % on 1,280 clips of four makes (seed 7 of those to learn from,
        positions by the networks learnt without each make), or a little more where two held less
        on captured players or the tests' stranger. On as many other clips two hold 94 to 98 %.
    left_out
        One standard deviation, in its unit, of what it leaves out by its own words.
    blunted
        Share of itself, where it is positive, by which it may be off besides: what comes and goes
        within a tenth of a second is smoothed away in part, by the source of keypoints and here.
    shaped
        Whether the shape of its signal is looked at, not its window alone: what the trained
        estimators see of a measure that a fault is judged by.
    """

    name: str
    title: str
    unit: str
    description: str
    views: tuple[View, ...]
    needs: tuple[Point, ...]
    start: float
    end: float
    reduce: Reduce
    signal: Signal
    against: tuple[float, ...] = ()
    observed: tuple[int, ...] = ()
    unsigned: bool = False
    ratio: bool = False
    doubt: float | Mapping[View, float] = 1.0
    left_out: float = 0.0
    blunted: float = 0.0
    shaped: bool = True

    @cached_property
    def at(self) -> str:
        """Its window in words: ``P4`` or ``P5-P7``."""
        start, end = f"P{self.start:g}", f"P{self.end:g}"
        return start if start == end else f"{start}-{end}"

    def doubt_from(self, view: View) -> float:
        """Its doubt in a view."""
        return self.doubt if isinstance(self.doubt, float) else self.doubt[view]

    @cached_property
    def not_in_view(self) -> Reason:
        """Why it can't be told in a view that is not one of its own."""
        names = " or ".join(v.value.replace("_", " ") for v in self.views)
        return Reason("view", f"{self.title} can only be told {names}.")

    @cached_property
    def places(self) -> frozenset[int]:
        """Where on the grid it looks: in its window, about it for the shape, at what it is held
        against, and at P1; all along it where its signal is not :func:`placewise`."""
        if self.signal not in _placewise:
            return frozenset(WHOLE)
        window = range(self.window.start, self.window.stop)
        about = self.about if self.shaped else ()
        return frozenset({0, *window, *about, *(grid_index(at) for at in self.against)})

    @cached_property
    def about(self) -> tuple[int, ...]:
        """Places of the grid that show the shape of its signal, from half a position before its
        window to half after."""
        places = np.linspace(self.start - _ABOUT, self.end + _ABOUT, SHAPE_PLACES)
        return tuple(grid_index(float(at)) for at in np.clip(places, GRID[0], GRID[-1]))

    @cached_property
    def window(self) -> slice:
        """Its window as a slice of the grid."""
        return slice(grid_index(self.start), grid_index(self.end) + 1)

    @cached_property
    def needs_positions(self) -> tuple[int, ...]:
        """The positions that its window's edges and its references lie at or between."""
        edges = (*self.against, self.start, self.end)
        return tuple(sorted({n for edge in edges for n in (floor(edge), ceil(edge))}))


@dataclass(frozen=True)
class MeasuredValue:
    """A measure taken on one swing: the number, its spread, and its best signal.

    ``signal`` has shape (n_grid,), NaN where a point is missing or nobody looks. ``as_measured`` is
    the number in the picture where ``value`` is an estimate made from it.
    """

    value: float
    uncertainty: float
    signal: FloatArray
    as_measured: float | None = None


_placewise: Final[set[Signal]] = set()


def placewise(signal: Signal) -> Signal:
    """Of a signal that at each place of the grid hangs on that place and on P1 alone, if on any.

    It is worked out for the samples where measures look at it and no further, and the errors of its
    points need not be drawn elsewhere.
    """
    _placewise.add(signal)
    return signal


def high(values: FloatArray) -> FloatArray:
    """A value few exceed, for each sample: the 90th percentile of what is not NaN.

    Parameters
    ----------
    values : array of shape (n_rows, n_grid)

    Returns
    -------
    array of shape (n_rows, 1)
    """
    if not isnan(np.add.reduce(values, axis=None)):
        place = int(0.9 * (values.shape[1] - 1))
        return np.asarray(np.partition(values, place, axis=1)[:, place : place + 1])
    in_order = np.sort(values, axis=1)  # NaN goes last
    count = np.count_nonzero(~np.isnan(values), axis=1)
    index = np.maximum((0.9 * (count - 1)).astype(np.intp), 0)
    return np.take_along_axis(in_order, index[:, None], axis=1)


def against_address(signal: FloatArray) -> FloatArray:
    """Change of a length since P1 in percent of body height.

    Parameters
    ----------
    signal : array of shape (n_rows, n_grid)
        In body heights.
    """
    return 100.0 * (signal - signal[:, :1])


def constant(values: FloatArray, swing: NormalizedSwing) -> FloatArray:
    """One value for each row, shape (n_rows,), as a signal of shape (n_rows, n_grid) that does not
    change along the swing."""
    return np.repeat(values[:, None], len(swing.shown), axis=1)
