"""What is learned: each judged measure's true value and error, from how it was seen.

An estimate takes the place of what was measured wherever the trained estimator came nearer to
the truth on sources it was not made from. Rules, evidence and grades then go by the estimate, so
that a verdict can't go against the figures printed beside it.

What was measured keeps part of the say (:func:`pooled`): estimators learn on simulated golfers,
and where a real player moves otherwise their correction leads astray while their error stays small.
How large a part is learnt for each measure, from what the makes of golfer left out support.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.measured import MeasuredSwing
from service.analysis.measures.definition import MeasuredValue
from service.analysis.types import BoolArray, Familiarity, FloatArray

UNFAMILIAR_WIDENING: Final[float] = 1.5
"""Factor on every uncertainty of a swing unlike those that the estimators were made from; a
judgement."""

USUAL: Final[tuple[float, float]] = (1.0, 99.0)
"""Percentiles of a feature in the training clips between which it is said to lie usually."""

FADES_OVER: Final[float] = 0.25
"""Of the range of values that an estimator was learnt from: beyond either end of it its share in
what is told fades to none over so much. On motion capture, where players go farther off the ball
and raise the handle more than simulated ones do, the lean of the drift is half as large by it and
3 to 8 more of 67 marked handles that rise are told; on 1,600 clips of makes left out one verdict
less is wrong. A judgement: with half of that it is much the same."""

_ROUNDING: Final = np.float32(1e-9)
"""Of a feature, in its unit: what lies less far outside its range does so by the way in which a
sum was rounded."""


@dataclass(frozen=True)
class Estimate:
    """A correction to what was measured and one standard deviation, in the measure's unit."""

    correction: float
    uncertainty: float


@dataclass(frozen=True)
class Range:
    """What the features of one view were in the clips that the estimators were made from.

    Attributes
    ----------
    columns : places of the features that are looked at
    low, high : arrays of shape (n_columns,)
        Where a feature usually lies: the percentiles :data:`USUAL`.
    most : float
        Share of features outside up to which a swing counts as familiar.
    """

    columns: NDArray[np.intp]
    low: NDArray[np.float32]
    high: NDArray[np.float32]
    most: float

    def familiarity(self, vector: NDArray[np.float32]) -> Familiarity:
        """How far a swing lies from those clips.

        Parameters
        ----------
        vector : array of shape (n_features,)
        """
        below, above, seen = self.sides(vector)
        outside = (below | above) & seen
        share = int(np.count_nonzero(outside)) / max(int(np.count_nonzero(seen)), 1)
        return Familiarity(share, share <= self.most)

    def sides(self, vector: NDArray[np.float32]) -> tuple[BoolArray, BoolArray, BoolArray]:
        """Which features lie below their range, which above, and which were seen at all.

        Parameters
        ----------
        vector : array of shape (n_features,)

        Returns
        -------
        three arrays of shape (n_columns,)
        """
        values = vector[self.columns]
        return values < self.low - _ROUNDING, values > self.high + _ROUNDING, np.isfinite(values)


def pooled(
    uncertainty: FloatArray,
    correction: FloatArray,
    spread: FloatArray,
    share: FloatArray | float,
    width: FloatArray | float = 1.0,
    near: FloatArray | float = 1.0,
) -> tuple[FloatArray, FloatArray]:
    """What was measured and what is estimated, pooled.

    The linear opinion pool of [stone1961]: a mixture of the two normal distributions, wider the
    further they lie apart. Where each of the two is as wide as it should be, their mixture is too
    wide, which ``width`` takes back (the spread-adjusted linear pool, [gneiting2013]); how far they
    lie apart stays.

    Parameters
    ----------
    uncertainty : array of any shape
        Standard deviation of what was measured, in the measure's unit.
    correction, spread : arrays of the same shape
        What the estimator adds to what was measured, and its standard deviation.
    share : number from 0 to 1, or array of numbers that goes with that shape
        The estimator's share in what is told.
    width : number above 0, or array likewise
        Factor on both standard deviations.
    near : number from 0 to 1, or array likewise
        How much of its share the estimator has (:func:`nearness`), and the width of its effect.

    Returns
    -------
    mean correction and standard deviation of the mixture, two arrays of the same shape

    >>> off, spread = pooled(np.array([2.0]), np.array([2.0]), np.array([2.0]), 0.5)
    >>> float(off[0]), round(float(spread[0]) ** 2, 9)
    (1.0, 5.0)
    >>> _, narrower = pooled(np.array([2.0]), np.array([2.0]), np.array([2.0]), 0.5, width=0.5)
    >>> round(float(narrower[0]) ** 2, 9)
    2.0
    """
    share, width = near * share, 1.0 + near * (width - 1.0)
    variance = width**2 * (share * spread**2 + (1.0 - share) * uncertainty**2)
    return share * correction, np.sqrt(variance + share * (1.0 - share) * correction**2)


def nearness(values: FloatArray, low: FloatArray | float, high: FloatArray | float) -> FloatArray:
    """How much of its share an estimator has where some values were measured.

    Nothing is known of values unlike those that it was learnt from, and players differ from the
    simulated: there what was measured stands.

    Parameters
    ----------
    values : array of any shape
    low, high : numbers, or arrays that go with that shape
        The range of the values that it was learnt from; infinite where that is not told.

    >>> nearness(np.array([5.0, 11.0, 12.0, 20.0]), 2.0, 10.0).tolist()
    [1.0, 0.5, 0.0, 0.0]
    """
    beyond = np.maximum(np.maximum(values - high, low - values), 0.0)
    return np.asarray(np.maximum(1.0 - beyond / (FADES_OVER * (high - low)), 0.0))


def with_estimates(swing: MeasuredSwing, estimates: Mapping[str, Estimate]) -> MeasuredSwing:
    """The swing with estimates in the place of what was measured, by the measures' names."""
    changed = {
        name: _estimated(found, estimate)
        for name, estimate in estimates.items()
        if isinstance(found := swing.values.get(name), MeasuredValue)
    }
    return _with_values(swing, changed)


def widened(swing: MeasuredSwing, factor: float) -> MeasuredSwing:
    """The swing with every uncertainty multiplied by a factor."""
    changed = {
        name: replace(found, uncertainty=factor * found.uncertainty)
        for name, found in swing.values.items()
        if isinstance(found, MeasuredValue)
    }
    return _with_values(swing, changed)


def _estimated(found: MeasuredValue, estimate: Estimate) -> MeasuredValue:
    return MeasuredValue(
        found.value + estimate.correction,
        estimate.uncertainty,
        found.signal + estimate.correction,
        as_measured=found.value,
    )


def _with_values(swing: MeasuredSwing, changed: Mapping[str, MeasuredValue]) -> MeasuredSwing:
    return replace(swing, values={**swing.values, **changed})
