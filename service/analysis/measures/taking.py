"""Measures taken of some swings, each with its uncertainty, and the record of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.events.normalized import GRID, NormalizedSwing
from service.analysis.measures.definition import Measure, MeasuredValue, Reduce, Signal
from service.analysis.measures.obstacles import LEAST_SEEN, Plan, Shown, how_found, plan_for
from service.analysis.types import BoolArray, FloatArray, Measurement, Position, Reason

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
    told together.

    Parameters
    ----------
    positions : P1 to P10 of each swing
    """
    plans = [
        plan_for(tuple(measures), Shown(swing.view, how_found(own), missing.tobytes()))
        for own, missing in zip(positions, swing.missing, strict=True)
    ]
    told = _told(_taken_of_any(tuple(measures), frozenset(plans)), swing)
    return [plan.obstacles | told.values(plan, k) for k, plan in enumerate(plans)]


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


@lru_cache(maxsize=256)
def _taken_of_any(measures: tuple[Measure, ...], plans: frozenset[Plan]) -> tuple[_Look, ...]:
    """The signals to look at for the measures that can be taken of any of some swings."""
    sharing = dict[Signal, list[Measure]]()
    for measure in measures:
        if any(measure.name in plan.taken for plan in plans):
            sharing.setdefault(measure.signal, []).append(measure)
    return tuple(_look(signal, tuple(own)) for signal, own in sharing.items())


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

    def values(self, plan: Plan, swing: int) -> dict[str, MeasuredValue | Reason]:
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
        enough = 0 < seen.shape[1] >= LEAST_SEEN * window.shape[2]
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


_REDUCERS: Final[dict[Reduce, Callable[[FloatArray], FloatArray]]] = {
    Reduce.MAX: lambda values: np.asarray(np.maximum.reduce(values, axis=-1)),
    Reduce.MEAN: lambda values: np.asarray(np.add.reduce(values, axis=-1) / values.shape[-1]),
}
