"""How unsure a placed position is, by what networks err on makes that they were not learnt from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

import numpy as np
from scipy.optimize import minimize

from service.analysis.events.positions.network import ALLOWED, read_off, slowness
from service.analysis.types import FloatArray, View
from training.models.positions.network import chances
from training.models.positions.swings import LabelledSwing, TrainingSet

_OUTLYING: Final[float] = 4.5
"""Residuals beyond so many errors allowed come from a misread clip and tell nothing of the
spread."""
_FEWEST: Final[int] = 30
"""Clips needed to fit the scale of an uncertainty."""
_COVERED: Final[float] = 0.965
"""Share of the residuals within two uncertainties: 95 % and some more, as misread clips are left
out."""
_DEFAULT_SCALES: Final[tuple[float, float, float]] = (1.0, ALLOWED, 0.5)
"""The scales of an uncertainty that too few clips tell."""
_DIGITS: Final[int] = 5


def predicted(
    weights: Mapping[str, FloatArray], data: TrainingSet
) -> tuple[FloatArray, FloatArray]:
    """Times and spreads that a network predicts, each of shape (n, 10), seconds."""
    all_chances = chances(weights, data.examples)
    read = [read_off(each, x.strip) for each, x in zip(all_chances, data.swings, strict=True)]
    return np.array([r.times for r in read]), np.array([r.spread for r in read])


class Residual(NamedTuple):
    """How far a network is off on a swing of a make that it was not learnt from.

    ``off`` and ``spread`` are seconds, each of shape (10,); ``slow`` is how many times slower than
    at full speed the swing goes by the predicted times.
    """

    swing: LabelledSwing
    off: FloatArray
    spread: FloatArray
    slow: float


def residuals(data: TrainingSet, others: Mapping[str, Mapping[str, FloatArray]]) -> list[Residual]:
    """Residuals of networks on the makes that they were not learnt from.

    Parameters
    ----------
    others
        Weights by the make that was left out.
    """
    seen, found = data.of(data.own), []
    for make, weights in others.items():
        own = seen.of(seen.make == make)
        times, spread = predicted(weights, own)
        off = times - np.array([swing.truth for swing in own.swings])
        slow = slowness(times)[:, 0].tolist()
        found += [Residual(*each) for each in zip(own.swings, off, spread, slow, strict=True)]
    return found


def scales(residuals: Sequence[Residual]) -> dict[str, list[list[float]]]:
    """What turns spreads into uncertainties, by view: three factors for each position."""
    return {
        view.value: [_scale([x for x in residuals if x.swing.view is view], k) for k in range(10)]
        for view in View
    }


def _scale(residuals: Sequence[Residual], k: int) -> list[float]:
    """Factors of one position's uncertainty for the spread, for how slow the swing is and for the
    time between frames.

    They are the most likely ones, then enlarged until two uncertainties cover what they should on
    the make that needs most, as a player of yet another make may be as far off.
    """
    kept = [
        x for x in residuals if x.swing.asked[k] and abs(x.off[k]) < _OUTLYING * x.swing.allowed
    ]  # NaN is not
    if len(kept) < _FEWEST:
        return list(_DEFAULT_SCALES)
    square = np.array([x.off[k] for x in kept]) ** 2
    parts = np.array([(x.spread[k], x.slow, x.swing.frame) for x in kept]) ** 2

    def unlikely(log_shares: FloatArray) -> float:
        variance = parts @ np.exp(log_shares)
        return float(np.mean(np.log(variance) + square / variance))

    typical = np.log(square.mean() / parts.mean(axis=0) / 3.0)
    bounds = [(each - 12.0, each + 4.0) for each in typical]
    shares = np.exp(minimize(unlikely, typical, bounds=bounds).x)
    makes = np.array([x.swing.make for x in kept])
    covering = _factor_that_covers(np.sqrt(square / (parts @ shares)), makes)
    return [round(float(covering / 2.0 * np.sqrt(each)), _DIGITS) for each in shares]


def _factor_that_covers(off: FloatArray, make: np.ndarray[Any, np.dtype[np.str_]]) -> float:
    """How many uncertainties cover the share they should of all, and of each make of enough clips.

    ``off``, of shape (n,), is in uncertainties; ``make``, of shape (n,), the make of each.
    """
    each = [off, *(off[make == one] for one in np.unique(make))]
    return max(float(np.quantile(some, _COVERED)) for some in each if len(some) >= _FEWEST)
