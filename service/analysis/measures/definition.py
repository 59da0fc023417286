"""What a measure is, and how one is taken with its uncertainty.

A measure reads a :class:`~service.analysis.events.normalized.NormalizedSwing`, whose samples
carry the keypoint noise and the timing uncertainty; its own uncertainty is the spread over the
samples. Lengths are told in percent of body height unless a measure names another unit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache, cached_property
from math import ceil, floor, isnan
from typing import Final

import numpy as np

from service.analysis.events.normalized import GRID, NormalizedSwing, grid_index
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, Measurement, Position, Reason, Source, View

BODY_PERCENT: Final[str] = "% of body height"
BOTH_VIEWS: Final[tuple[View, ...]] = (View.FACE_ON, View.DOWN_THE_LINE)
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


@dataclass(frozen=True)
class Measure:
    """Something measured over a window of positions.

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
        (n_samples, n_grid), in ``unit``.
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
    def untold(self) -> Measurement:
        """Its record in a view that is not one of its own."""
        return Measurement(self.name, self.title, self.unit, self.at, None, None, self.not_in_view)

    @cached_property
    def places(self) -> frozenset[int]:
        """Where on the grid it looks: its window, what it is held against, and P1."""
        window = range(self.window.start, self.window.stop)
        return frozenset({0, *window, *(grid_index(at) for at in self.against)})

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

    ``signal`` has shape (n_grid,). ``as_measured`` is the number in the picture where ``value`` is
    an estimate made from it.
    """

    value: float
    uncertainty: float
    signal: FloatArray
    as_measured: float | None = None


def take(
    measure: Measure, swing: NormalizedSwing, positions: tuple[Position, ...]
) -> MeasuredValue | Reason:
    """Take one measure, or say why it can't be taken."""
    return take_all((measure,), swing, positions)[measure.name]


def take_all(
    measures: Sequence[Measure], swing: NormalizedSwing, positions: tuple[Position, ...]
) -> dict[str, MeasuredValue | Reason]:
    """Take some measures or say why they can't be taken, by name.

    Signals that several measures share are worked out once, and all numbers are told together.
    """
    reasons = {measure.name: _obstacle(measure, swing, positions) for measure in measures}
    sharing: dict[Signal, list[Measure]] = {}
    for measure in measures:
        if reasons[measure.name] is None:
            sharing.setdefault(measure.signal, []).append(measure)
    signals: dict[Signal, FloatArray] = {}
    windows: dict[str, FloatArray] = {}
    for signal, own in sharing.items():
        signals[signal], parts = _along(signal, own, swing)
        windows.update(zip((measure.name for measure in own), parts, strict=True))
    seen = [measure for measure in measures if measure.name in windows]
    samples = [_reduced(windows[measure.name], measure.reduce) for measure in seen]
    numbers = _values(seen, samples)
    return {
        measure.name: reasons[measure.name]
        or _value(measure, numbers.get(measure.name), signals[measure.signal])
        for measure in measures
    }


def _value(
    measure: Measure, number: tuple[float, float] | None, signal: FloatArray
) -> MeasuredValue | Reason:
    return _unclear(measure) if number is None else MeasuredValue(*number, signal)


_placewise: Final[set[Signal]] = set()


def placewise(signal: Signal) -> Signal:
    """Of a signal that at each place of the grid hangs on that place and on P1 alone.

    It is worked out for the samples where measures look at it and no further, which saves most of
    the angles.
    """
    _placewise.add(signal)
    return signal


def _along(
    signal: Signal, measures: Sequence[Measure], swing: NormalizedSwing
) -> tuple[FloatArray, list[FloatArray]]:
    """A signal of the best estimate, shape (n_grid,), and of all samples in each measure's window,
    shapes (n_samples, n_places).

    The first is a copy, so that the samples need not be kept with it.
    """
    if signal not in _placewise:
        whole = signal(swing)
        return whole[0].copy(), [whole[:, measure.window] for measure in measures]
    places = sorted(set().union(*(measure.places for measure in measures)))
    some = signal(swing.at(places))
    firsts = [places.index(measure.window.start) for measure in measures]
    parts = [
        some[:, first : first + measure.window.stop - measure.window.start]
        for first, measure in zip(firsts, measures, strict=True)
    ]
    return signal(swing.best)[0], parts


def _reduced(window: FloatArray, how: Reduce) -> FloatArray:
    """One number a sample, shape (n_samples,), from where all samples are seen; NaN where that is
    too little of the window."""
    if window.shape[1] == 1:
        return window[:, 0]
    # Neither way of reducing hides a NaN.
    reduced = _REDUCERS[how](window)
    if not isnan(np.add.reduce(reduced)):
        return reduced
    seen = window[:, ~np.isnan(window).any(axis=0)]
    enough = 0 < seen.shape[1] >= _LEAST_SEEN * window.shape[1]
    return _REDUCERS[how](seen) if enough else np.full(len(window), np.nan)


def _values(
    measures: Sequence[Measure], samples: Sequence[FloatArray]
) -> dict[str, tuple[float, float]]:
    """Number and spread of each measure that has them, by name, from one number a sample."""
    if not measures:
        return {}
    together = np.array(samples)
    known = ~np.isnan(np.add.reduce(together, axis=1))
    value, apart = together[:, 0], together[:, 1:] - together[:, :1]
    angles = np.array([measure.unit == "degrees" for measure in measures])
    apart[angles] = (apart[angles] + 180.0) % 360.0 - 180.0
    largest = np.array([measure.reduce is Reduce.MAX for measure in measures])
    spread = np.sqrt(np.add.reduce(apart * apart, axis=-1) / apart.shape[-1])
    spread[largest] = _spread(apart[largest])
    larger = largest | np.array([measure.unsigned for measure in measures])
    better = np.where(larger, _less_noise(value, apart, spread), value)
    spread *= np.array([measure.doubt for measure in measures])
    told = zip(measures, known.tolist(), better.tolist(), spread.tolist(), strict=True)
    return {measure.name: (v, s) for measure, is_known, v, s in told if is_known}


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
    value, spread : numbers, or arrays of shape (n_measures,)
    apart : array of shape (n_draws,) or (n_measures, n_draws)
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


def measure_all(
    measures: tuple[Measure, ...], swing: NormalizedSwing, positions: tuple[Position, ...]
) -> tuple[dict[str, MeasuredValue | Reason], tuple[Measurement, ...]]:
    """Take every measure: by name for the judging, and as the records of the answer."""
    values = take_all(measures, swing, positions)
    return values, tuple(_record(m, values[m.name]) for m in measures)


def _unclear(measure: Measure) -> Reason:
    return Reason(
        "points_too_close",
        f"{measure.title} has no clear value in this picture at {measure.at}.",
    )


def _record(measure: Measure, found: MeasuredValue | Reason) -> Measurement:
    if found is measure.not_in_view:
        return measure.untold
    value, spread, reason = (
        (None, None, found) if isinstance(found, Reason) else (found.value, found.uncertainty, None)
    )
    return Measurement(measure.name, measure.title, measure.unit, measure.at, value, spread, reason)


def _obstacle(
    measure: Measure, swing: NormalizedSwing, positions: tuple[Position, ...]
) -> Reason | None:
    if swing.view not in measure.views:
        return measure.not_in_view
    for number in measure.needs_positions:
        if positions[number - 1].time is None:
            return _position_missing(measure, positions[number - 1])
    for number in measure.observed:
        if positions[number - 1].source is not Source.OBSERVED:
            return Reason(
                "position_inferred",
                f"{measure.title} needs P{number} to be seen; the clip may start after it.",
            )
    gaps = swing.gaps
    unseen = tuple(p for p in measure.needs if gaps[p] and _unseen(swing, p, measure))
    return _points_not_seen(unseen) if unseen else None


@cache
def _points_not_seen(points: tuple[Point, ...]) -> Reason:
    names = ", ".join(point.label for point in points)
    return Reason("points_not_seen", f"Not seen well enough for this: {names}.")


def _unseen(swing: NormalizedSwing, point: Point, measure: Measure) -> bool:
    lost = swing.missing[point]
    share = np.count_nonzero(lost[measure.window]) / len(lost[measure.window])
    return bool(share > 1.0 - _LEAST_SEEN or any(lost[grid_index(at)] for at in measure.against))


def _position_missing(measure: Measure, missing: Position) -> Reason:
    code = missing.reason.code if missing.reason else "position_not_found"
    why = f" {missing.reason.text}" if missing.reason else ""
    return Reason(code, f"{measure.title} needs {missing.name}, which was not found.{why}")


_REDUCERS: Final[dict[Reduce, Callable[[FloatArray], FloatArray]]] = {
    Reduce.MAX: lambda values: np.asarray(np.maximum.reduce(values, axis=1)),
    Reduce.MEAN: lambda values: np.asarray(np.add.reduce(values, axis=1) / values.shape[1]),
}


def high(values: FloatArray) -> FloatArray:
    """A value few exceed, for each sample: the 90th percentile of what is not NaN.

    Parameters
    ----------
    values : array of shape (n_samples, n_grid)

    Returns
    -------
    array of shape (n_samples, 1)
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
    signal : array of shape (n_samples, n_grid)
        In body heights.
    """
    return 100.0 * (signal - signal[:, :1])


def constant(values: FloatArray) -> FloatArray:
    """One value for each sample as a signal that does not change along the swing."""
    return np.repeat(values[:, None], len(GRID), axis=1)
