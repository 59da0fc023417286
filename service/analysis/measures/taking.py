"""Measures taken of some swings, each with its uncertainty, and the record of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import isnan
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.normalized import GRID, NormalizedSwing
from service.analysis.measures.definition import Measure, MeasuredValue, Reduce, Signal
from service.analysis.measures.obstacles import LEAST_SEEN, Plan, Shown, how_found, plan_for
from service.analysis.types import BoolArray, FloatArray, Measurement, Position, Reason, View

_NOISE_SHARE: Final[float] = 0.75
"""Share of what the drawn errors add that noise has truly added, and bias grows with the square of
an error: the stated ones are cautious. On simulated and on captured swings the largest values are
then right in the middle."""


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
    taken together.

    Parameters
    ----------
    positions : P1 to P10 of each swing
    """
    plans = [
        plan_for(tuple(measures), Shown(swing.view, how_found(own), missing.tobytes()))
        for own, missing in zip(positions, swing.missing, strict=True)
    ]
    readings = _readings_for(tuple(measures), frozenset(plans), swing.view)
    numbers = _take_together(readings, swing)
    return [plan.obstacles | numbers.of(plan, k) for k, plan in enumerate(plans)]


@dataclass(frozen=True, eq=False)
class _Reading:
    """One signal and which of its values measures take.

    Attributes
    ----------
    measures : those that read it, first those that read a single place of the grid
    places : the places of the grid that any of them reads
    grid : array of shape (n_places,)
        The same as an index.
    single : array of shape (n_single,)
        For each measure of a single place, the index of that place among ``places``.
    windows : for each of the other measures, its window as a slice of ``places``
    """

    signal: Signal
    measures: tuple[Measure, ...]
    places: tuple[int, ...]
    grid: NDArray[np.intp]
    single: NDArray[np.intp]
    windows: tuple[slice, ...]


@dataclass(frozen=True, eq=False)
class _Readings:
    """All signals to be read, and how the numbers read become values.

    Attributes
    ----------
    each : the readings
    measures : every measure with the index of its reading, in the order of the readings
    angles : boolean array of shape (n_measures,)
        Whether the measure is an angle, which wraps at 180 degrees.
    largest : boolean array of shape (n_measures,)
        Whether it is the largest value of its window.
    larger : boolean array of shape (n_measures,)
        Whether noise makes it larger.
    doubts, left_out, blunted : arrays of shape (n_measures, 1)
    """

    each: tuple[_Reading, ...]
    measures: tuple[tuple[Measure, int], ...]
    angles: BoolArray
    largest: BoolArray
    larger: BoolArray
    doubts: FloatArray
    left_out: FloatArray
    blunted: FloatArray


@lru_cache(maxsize=256)
def _readings_for(measures: tuple[Measure, ...], plans: frozenset[Plan], view: View) -> _Readings:
    """The readings for those measures that can be taken of at least one swing."""
    sharing = dict[Signal, list[Measure]]()
    for measure in measures:
        if any(measure.name in plan.taken for plan in plans):
            sharing.setdefault(measure.signal, []).append(measure)
    readings = tuple(_reading(signal, own) for signal, own in sharing.items())
    kinds = [measure for reading in readings for measure in reading.measures]
    return _Readings(
        readings,
        tuple((measure, k) for k, reading in enumerate(readings) for measure in reading.measures),
        np.array([measure.unit == "degrees" for measure in kinds], dtype=bool),
        np.array([measure.reduce is Reduce.MAX for measure in kinds], dtype=bool),
        np.array([m.reduce is Reduce.MAX or m.unsigned for m in kinds], dtype=bool),
        _column(measure.doubt_from(view) for measure in kinds),
        _column(measure.left_out for measure in kinds),
        _column(measure.blunted for measure in kinds),
    )


def _column(numbers: Iterable[float]) -> FloatArray:
    return np.array(list(numbers)).reshape(-1, 1)


def _reading(signal: Signal, measures: Sequence[Measure]) -> _Reading:
    places = tuple(sorted(set().union(*(measure.places for measure in measures))))
    single = [measure for measure in measures if _length(measure) == 1]
    others = [measure for measure in measures if _length(measure) > 1]
    firsts = [places.index(measure.window.start) for measure in others]
    return _Reading(
        signal,
        (*single, *others),
        places,
        np.array(places),
        np.array([places.index(measure.window.start) for measure in single], dtype=np.intp),
        tuple(slice(k, k + _length(measure)) for k, measure in zip(firsts, others, strict=True)),
    )


def _length(measure: Measure) -> int:
    """How many places of the grid its window has."""
    return int(measure.window.stop - measure.window.start)


@dataclass(frozen=True)
class _Numbers:
    """What was read of some swings.

    ``numbers``, ``spreads`` and ``known`` (whether there is a number) have the shape
    (n_swings, n_measures); ``signals``, without drawn errors, (n_readings, n_swings, n_grid).
    """

    measures: tuple[tuple[Measure, int], ...]
    numbers: list[list[float]]
    spreads: list[list[float]]
    known: list[list[bool]]
    signals: FloatArray

    def of(self, plan: Plan, swing: int) -> dict[str, MeasuredValue | Reason]:
        """The measures that can be taken of one of the swings, by name."""
        rows = (rows[swing] for rows in (self.known, self.numbers, self.spreads))
        return {
            m.name: MeasuredValue(number, spread, self.signals[reading, swing])
            if is_known
            else _unclear(m)
            for (m, reading), is_known, number, spread in zip(self.measures, *rows, strict=True)
            if m.name in plan.taken
        }


def _take_together(readings: _Readings, swing: NormalizedSwing) -> _Numbers:
    """Take all readings of all swings at once."""
    n_samples = len(swing.times) // len(swing)
    signals = np.full((len(readings.each), len(swing), len(GRID)), np.nan)
    numbers = np.empty((len(readings.measures), len(swing), n_samples))
    row = 0
    for reading, best in zip(readings.each, signals, strict=True):
        # All rows of a place lie together, as they do in the samples.
        along = reading.signal(swing.at(reading.places)).T.reshape(-1, len(swing), n_samples)
        best[:, reading.grid] = along[..., 0].T
        if reading.single.size:
            numbers[row : row + reading.single.size] = along[reading.single]
            row += reading.single.size
        for window, measure in zip(
            reading.windows, reading.measures[reading.single.size :], strict=True
        ):
            numbers[row] = _reduced(along[window], measure.reduce)
            row += 1
    known, better, spread = (each.T.tolist() for each in _values(readings, numbers))
    return _Numbers(readings.measures, better, spread, known, signals)


def _reduced(window: FloatArray, how: Reduce) -> FloatArray:
    """One number a sample, shape (n_swings, n_samples), from where all samples of a swing are seen;
    NaN where that is too little of the window.

    ``window`` has shape (n_places, n_swings, n_samples).
    """
    # Neither way of reducing hides a NaN.
    reduced = _REDUCERS[how](window)
    if not isnan(np.add.reduce(reduced, axis=None)):
        return reduced
    for k in np.isnan(np.add.reduce(reduced, axis=1)).nonzero()[0].tolist():
        seen = window[~np.isnan(window[:, k]).any(axis=1), k]
        enough = 0 < len(seen) >= LEAST_SEEN * len(window)
        reduced[k] = _REDUCERS[how](seen) if enough else np.nan
    return reduced


_REDUCERS: Final[dict[Reduce, Callable[[FloatArray], FloatArray]]] = {
    Reduce.MAX: lambda values: np.asarray(np.maximum.reduce(values)),
    Reduce.MEAN: lambda values: np.asarray(np.add.reduce(values) / len(values)),
}


def _values(readings: _Readings, together: FloatArray) -> tuple[BoolArray, FloatArray, FloatArray]:
    """Whether a measure is known, its number and its spread, each of shape (n_measures, n_swings),
    from one number a sample."""
    known = ~np.isnan(np.add.reduce(together, axis=-1))
    value, apart = together[..., 0].copy(), together[..., 1:] - together[..., :1]
    apart[readings.angles] = (apart[readings.angles] + 180.0) % 360.0 - 180.0
    spread = np.sqrt(np.add.reduce(apart * apart, axis=-1) / apart.shape[-1])
    spread[readings.largest] = _spread(apart[readings.largest])
    own = readings.larger
    value[own] = _less_noise(value[own], apart[own], spread[own])
    spread *= readings.doubts
    besides = np.hypot(readings.left_out, readings.blunted * np.maximum(value, 0.0))
    return known, value, np.hypot(spread, besides)


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
