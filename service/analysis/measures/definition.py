"""What a measure is, and how one is taken with its uncertainty.

A measure reads a :class:`~service.analysis.events.normalized.NormalizedSwing`, whose samples
carry the keypoint noise and the timing uncertainty; its own uncertainty is the spread over the
samples. Lengths are told in percent of body height unless a measure names another unit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache, cached_property, lru_cache
from math import ceil, floor, isnan
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.normalized import GRID, WHOLE, NormalizedSwing, grid_index
from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import (
    BoolArray,
    FloatArray,
    Measurement,
    Position,
    Reason,
    Source,
    View,
)

BODY_PERCENT: Final[str] = "% of body height"
BOTH_VIEWS: Final[tuple[View, ...]] = (View.FACE_ON, View.DOWN_THE_LINE)
SHAPE_PLACES: Final[int] = 5
"""Places at which the shape of a signal is told."""
_ABOUT: Final[float] = 0.5
"""Positions before and after a measure's window at the first and the last of them."""
_LEAST_SEEN: Final[float] = 0.7
"""Share of a measure's window in which its points must be seen."""


_NOISE_SHARE: Final[float] = 0.75
"""Share of what the drawn errors add that noise has truly added, and bias grows with the square of
an error: the stated ones are cautious. On simulated and on captured swings the largest values are
then right in the middle."""


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
    doubt
        How many times its spread over the draws the uncertainty is, where that was found too small
        on golfers of several makes and the measure is not estimated by what is learned.
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
    doubt: float = 1.0

    @cached_property
    def at(self) -> str:
        """Its window in words: ``P4`` or ``P5-P7``."""
        start, end = f"P{self.start:g}", f"P{self.end:g}"
        return start if start == end else f"{start}-{end}"

    @cached_property
    def not_in_view(self) -> Reason:
        """Why it can't be told in a view that is not one of its own."""
        names = " or ".join(v.value.replace("_", " ") for v in self.views)
        return Reason("view", f"{self.title} can only be told {names}.")

    @cached_property
    def places(self) -> frozenset[int]:
        """Where on the grid it looks: about its window, at what it is held against, and at P1; all
        along it where its signal is not :func:`placewise`."""
        if self.signal not in _placewise:
            return frozenset(WHOLE)
        window = range(self.window.start, self.window.stop)
        return frozenset({0, *window, *self.about, *(grid_index(at) for at in self.against)})

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


def take(
    measure: Measure, swing: NormalizedSwing, positions: tuple[Position, ...]
) -> MeasuredValue | Reason:
    """Take one measure of one swing, or say why it can't be taken."""
    (values,) = take_all((measure,), swing, (positions,))
    return values[measure.name]


def take_all(
    measures: Sequence[Measure], swing: NormalizedSwing, positions: Sequence[tuple[Position, ...]]
) -> list[dict[str, MeasuredValue | Reason]]:
    """Take some measures of each of the swings or say why they can't be taken, by name.

    Signals that several measures share are worked out once, for all swings, and all numbers are
    told together.

    Parameters
    ----------
    positions : P1 to P10 of each swing
    """
    plans = [
        _plan(tuple(measures), _Shown(swing.view, _how_found(own), missing.tobytes()))
        for own, missing in zip(positions, swing.missing, strict=True)
    ]
    told = _told(_taken_of_any(tuple(measures), frozenset(plans)), swing)
    return [plan.obstacles | told.values(plan, k) for k, plan in enumerate(plans)]


def _how_found(positions: tuple[Position, ...]) -> tuple[tuple[Source, Reason | None], ...]:
    return tuple((position.source, position.reason) for position in positions)


class _Shown(NamedTuple):
    """What of a swing decides which measures can be taken."""

    view: View
    found: tuple[tuple[Source, Reason | None], ...]
    """How P1 to P10 were found."""
    missing: bytes
    """Of the swing's :attr:`NormalizedSwing.missing`."""


@dataclass(frozen=True)
class _Look:
    """One signal and what is read of it.

    Attributes
    ----------
    measures : those that read it
    places : where on the grid they do
    grid : the same as an index
    windows : of each measure among these places
    """

    signal: Signal
    measures: tuple[Measure, ...]
    places: tuple[int, ...]
    grid: NDArray[np.intp]
    windows: tuple[slice, ...]


@dataclass(frozen=True, eq=False)
class _Plan:
    """Which measures can be taken of a swing, by name, and why the others can't."""

    taken: frozenset[str]
    obstacles: dict[str, MeasuredValue | Reason]


@lru_cache(maxsize=256)
def _plan(measures: tuple[Measure, ...], shown: _Shown) -> _Plan:
    """What to take of a swing; most clips of a camera show the same."""
    missing = np.frombuffer(shown.missing, dtype=bool).reshape(N_POINTS, len(GRID))
    reasons = {measure.name: _obstacle(measure, shown, missing) for measure in measures}
    return _Plan(
        frozenset(name for name, reason in reasons.items() if reason is None),
        {name: reason for name, reason in reasons.items() if reason is not None},
    )


@lru_cache(maxsize=256)
def _taken_of_any(measures: tuple[Measure, ...], plans: frozenset[_Plan]) -> tuple[_Look, ...]:
    """The signals to look at for the measures that can be taken of any of some swings."""
    sharing = dict[Signal, list[Measure]]()
    for measure in measures:
        if any(measure.name in plan.taken for plan in plans):
            sharing.setdefault(measure.signal, []).append(measure)
    return tuple(_look(signal, tuple(own)) for signal, own in sharing.items())


_placewise: Final[set[Signal]] = set()


def placewise(signal: Signal) -> Signal:
    """Of a signal that at each place of the grid hangs on that place and on P1 alone.

    It is worked out for the samples where measures look at it and no further, and the errors of its
    points need not be drawn elsewhere.
    """
    _placewise.add(signal)
    return signal


def _look(signal: Signal, measures: tuple[Measure, ...]) -> _Look:
    places = tuple(sorted(set().union(*(measure.places for measure in measures))))
    firsts = [places.index(measure.window.start) for measure in measures]
    windows = tuple(
        slice(first, first + measure.window.stop - measure.window.start)
        for first, measure in zip(firsts, measures, strict=True)
    )
    return _Look(signal, measures, places, np.array(places), windows)


@dataclass(frozen=True)
class _Told:
    """Measures taken of some swings, each a row: numbers, spreads and whether these are known, of
    shape (n_swings, n_measures), and the best signals of shape (n_looks, n_swings, n_grid)."""

    looks: tuple[_Look, ...]
    numbers: list[list[float]]
    spreads: list[list[float]]
    known: list[list[bool]]
    signals: FloatArray

    def values(self, plan: _Plan, swing: int) -> dict[str, MeasuredValue | Reason]:
        """Those that can be taken of one of the swings, by name."""
        measures = ((m, look) for look, each in enumerate(self.looks) for m in each.measures)
        rows = (rows[swing] for rows in (self.known, self.numbers, self.spreads))
        return {
            m.name: MeasuredValue(number, spread, self.signals[look, swing])
            if is_known
            else _unclear(m)
            for (m, look), is_known, number, spread in zip(measures, *rows, strict=True)
            if m.name in plan.taken
        }


def _told(looks: tuple[_Look, ...], swing: NormalizedSwing) -> _Told:
    """All that is looked at, of all swings at once."""
    signals = np.full((len(looks), len(swing), len(GRID)), np.nan)
    numbers: list[FloatArray] = []
    for look, best in zip(looks, signals, strict=True):
        samples = swing.by_swing(look.signal(swing.at(look.places)))
        best[:, look.grid] = samples[:, 0]
        numbers.extend(
            _reduced(samples[..., window], measure.reduce)
            for measure, window in zip(look.measures, look.windows, strict=True)
        )
    measures = tuple(measure for look in looks for measure in look.measures)
    told = _values(measures, numbers) if measures else (np.empty((0, len(swing))),) * 3
    known, better, spread = (each.T.tolist() for each in told)
    return _Told(looks, better, spread, known, signals)


def _reduced(window: FloatArray, how: Reduce) -> FloatArray:
    """One number a sample, shape (n_swings, n_samples), from where all samples of a swing are seen;
    NaN where that is too little of the window.

    ``window`` has shape (n_swings, n_samples, n_places).
    """
    if window.shape[2] == 1:
        return window[..., 0]
    # Neither way of reducing hides a NaN.
    reduced = _REDUCERS[how](window)
    for k in np.flatnonzero(np.isnan(np.add.reduce(reduced, axis=1))).tolist():
        seen = window[k, :, ~np.isnan(window[k]).any(axis=0)].T
        enough = 0 < seen.shape[1] >= _LEAST_SEEN * window.shape[2]
        reduced[k] = _REDUCERS[how](seen) if enough else np.nan
    return reduced


def _values(
    measures: tuple[Measure, ...], samples: Sequence[FloatArray]
) -> tuple[BoolArray, FloatArray, FloatArray]:
    """Whether a measure is known, its number and its spread, each of shape (n_measures, n_swings),
    from one number a sample."""
    together = np.array(samples)
    known = ~np.isnan(np.add.reduce(together, axis=-1))
    value, apart = together[..., 0], together[..., 1:] - together[..., :1]
    angles, largest = _kinds(measures)
    apart[angles] = (apart[angles] + 180.0) % 360.0 - 180.0
    spread = np.sqrt(np.add.reduce(apart * apart, axis=-1) / apart.shape[-1])
    spread[largest] = _spread(apart[largest])
    larger = largest | np.array([measure.unsigned for measure in measures])
    better = np.where(larger[:, None], _less_noise(value, apart, spread), value)
    spread *= np.array([[measure.doubt] for measure in measures])
    return known, better, spread


@lru_cache(maxsize=256)
def _kinds(measures: tuple[Measure, ...]) -> tuple[BoolArray, BoolArray]:
    """Which measures are angles, and which the largest value of a window."""
    return (
        np.array([measure.unit == "degrees" for measure in measures]),
        np.array([measure.reduce is Reduce.MAX for measure in measures]),
    )


def _less_noise(
    value: FloatArray | float, apart: FloatArray, spread: FloatArray | float
) -> FloatArray:
    """The largest value of a window, or one that can't be negative, less what noise adds to it on
    average.

    The largest of noisy values is too large, and so is the bend of a straight arm; drawing the
    noise once more shows by how much (the bootstrap's estimate of bias, Efron and Tibshirani 1993,
    chapter 10, from memory). What can't be negative with noise is not made so without, and no
    correction goes beyond the value's own uncertainty.

    Parameters
    ----------
    value, spread : numbers, or arrays of some shape
    apart : array of that shape and (n_draws,)
        How far each draw lies from ``value``.
    """
    added = np.add.reduce(apart, axis=-1) / apart.shape[-1]
    better = value - _NOISE_SHARE * np.minimum(np.maximum(added, -spread), spread)
    never_negative = (value >= 0.0) & (value + np.minimum.reduce(apart, axis=-1) >= 0.0)
    return np.asarray(np.where(never_negative, np.maximum(better, 0.0), better))


def _spread(values: FloatArray) -> FloatArray:
    """Standard deviation along the last axis, in a fraction of the time that numpy takes for so
    few values."""
    off = values - np.add.reduce(values, axis=-1, keepdims=True) / values.shape[-1]
    return np.asarray(np.sqrt(np.add.reduce(off * off, axis=-1) / values.shape[-1]))


def _unclear(measure: Measure) -> Reason:
    return Reason(
        "points_too_close",
        f"{measure.title} has no clear value in this picture at {measure.at}.",
    )


def record(measure: Measure, found: MeasuredValue | Reason) -> Measurement:
    """What was found as the answer tells it."""
    if isinstance(found, Reason):
        return _untold(measure, found)
    return Measurement(
        measure.name,
        measure.title,
        measure.unit,
        measure.at,
        found.value,
        found.uncertainty,
        as_measured=found.as_measured,
    )


@lru_cache(maxsize=512)
def _untold(measure: Measure, why: Reason) -> Measurement:
    """The record of a measure that can't be taken; most clips of a camera lack the same."""
    return Measurement(measure.name, measure.title, measure.unit, measure.at, None, None, why)


def _obstacle(measure: Measure, shown: _Shown, missing: BoolArray) -> Reason | None:
    if shown.view not in measure.views:
        return measure.not_in_view
    for number in measure.needs_positions:
        source, why = shown.found[number - 1]
        if source is Source.NOT_FOUND:
            return _position_missing(measure, number, why)
    for number in measure.observed:
        if shown.found[number - 1][0] is not Source.OBSERVED:
            return Reason(
                "position_inferred",
                f"{measure.title} needs P{number} to be seen; the clip may start after it.",
            )
    unseen = tuple(point for point in measure.needs if _unseen(missing[point], measure))
    return _points_not_seen(unseen) if unseen else None


@cache
def _points_not_seen(points: tuple[Point, ...]) -> Reason:
    names = ", ".join(point.label for point in points)
    return Reason("points_not_seen", f"Not seen well enough for this: {names}.")


def _unseen(lost: BoolArray, measure: Measure) -> bool:
    share = np.count_nonzero(lost[measure.window]) / len(lost[measure.window])
    return bool(share > 1.0 - _LEAST_SEEN or any(lost[grid_index(at)] for at in measure.against))


def _position_missing(measure: Measure, number: int, why: Reason | None) -> Reason:
    code = why.code if why else "position_not_found"
    told = f" {why.text}" if why else ""
    return Reason(code, f"{measure.title} needs P{number}, which was not found.{told}")


_REDUCERS: Final[dict[Reduce, Callable[[FloatArray], FloatArray]]] = {
    Reduce.MAX: lambda values: np.asarray(np.maximum.reduce(values, axis=-1)),
    Reduce.MEAN: lambda values: np.asarray(np.add.reduce(values, axis=-1) / values.shape[-1]),
}


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
    """One value for each sample as a signal that does not change along the swing."""
    return np.repeat(values[:, None], len(swing.shown), axis=1)
