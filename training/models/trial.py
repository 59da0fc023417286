"""Try estimators on sources that they were not fitted on.

How much of an estimator is told, how wide, and whether it is served at all is decided by sources
left out: one fitted on the others must come nearer to the truth (continuous ranked probability
score) on every one of them, and the verdicts that go by it must not be worth less
(:mod:`training.models.learn`).

References
----------
T. Gneiting, A. E. Raftery, Strictly proper scoring rules, prediction, and estimation, Journal of
the American Statistical Association 102 (2007) 359-378 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import ndtr

from service.analysis.judging.estimates import nearness, pooled
from service.analysis.measures.definition import Measure
from service.analysis.types import BoolArray, FloatArray, View
from training.data.rows import Rows
from training.models.fit import TINY, fit, left_out
from training.models.verdicts import Verdicts

_TRIMMED: Final[tuple[float, float]] = (0.2, 99.8)
"""Percentiles of the truths between which the score is taken: a swing or two in a thousand come out
as no player swings, and would decide it."""
_HELD_TOLD: Final[float] = 0.965
"""Share of the truths that two spreads of what is told must hold: a little more than in a normal
distribution, for players of yet other makes. With 0.955, on 1,917 clips of makes left out, 4 % more
faults are rightly told and a fifth more verdicts are wrong."""
_WEIGHTS: Final[FloatArray] = np.linspace(0.0, 0.5, 11)
"""Shares of an estimator in what is told, of which one is chosen. That what was measured keeps half
of the say is a judgement, made while looking at motion capture: players differ from the simulated
more than those among themselves, and an estimate leans toward the simulated player. With three
quarters heel, knee, drift and, down the line, the height of the hands are worse there than as
measured."""
_NARROWEST: Final[float] = 0.5
"""Of the factors on the spread of what is told; a judgement that none has reached."""
_LEAST_ROWS: Final[int] = 400
"""Clips of which an estimator must have been tried; a judgement."""


@dataclass(frozen=True)
class _Tried:
    """What estimators say of rows that they were not fitted on: corrections, their standard
    deviations, and how much of its share each has, arrays of shape (n,)."""

    correction: FloatArray
    spread: FloatArray
    near: FloatArray

    def only(self, chosen: BoolArray) -> _Tried:
        """Of the rows for which a mask of shape (n,) is true."""
        return _Tried(self.correction[chosen], self.spread[chosen], self.near[chosen])


@dataclass(frozen=True)
class Trial:
    """How an estimator did on sources it was not fitted on, against the measure as it is.

    ``weight`` is its share in what is told, the least that any source left out supports, and
    ``width`` the factor on the spread of that with which two hold what they should. ``crps``
    and ``crps_measured`` have an entry a source left out; ``held`` and ``held_measured`` are the
    shares of truths within two standard deviations. ``nearer`` says whether it came nearer to the
    truth on every source left out; where it did, ``verdicts`` are those that go by it there, and
    ``verdicts_measured`` those that go by the measure as it is. ``served`` is what was chosen.
    """

    measure: str
    view: str
    clips: int
    crps: dict[str, float]
    crps_measured: dict[str, float]
    held: float
    held_measured: float
    weight: float
    width: float
    nearer: bool
    verdicts: Verdicts | None = None
    verdicts_measured: Verdicts | None = None
    served: bool = False


def try_left_out(
    measure: Measure, view: View, rows: Rows, names: Sequence[str]
) -> tuple[Trial, FloatArray, FloatArray]:
    """Estimate the clips of each source by what was fitted on the others.

    Returns
    -------
    the trial, and the estimates and their standard deviations, each of shape (n,)
    """
    tried = _Tried(*(np.empty(len(rows)) for _ in range(3)))
    for held in left_out(rows.source):
        estimator, own = fit(measure, view, rows.only(~held)), rows.only(held)
        value, tried.spread[held] = estimator.estimate(own)
        tried.correction[held] = value - own.value
        tried.near[held] = nearness(own.value, *estimator.reach)
    weight, scores = _supported(rows, tried)
    estimated, measured = ({names[k]: by_source[k] for k in by_source} for by_source in scores)
    width = _width(rows, tried, weight)
    value, spread = _told(rows, tried, weight, width)
    nearer = all(estimated[name] < measured[name] for name in measured)
    trial = Trial(
        measure.name,
        view.value,
        len(rows),
        estimated,
        measured,
        float((np.abs(rows.truth - value) <= 2.0 * spread).mean()),
        float((np.abs(rows.truth - rows.value) <= 2.0 * rows.uncertainty).mean()),
        weight,
        width,
        nearer and len(measured) > 1 and len(rows) >= _LEAST_ROWS,
    )
    return trial, value, spread


def _supported(
    rows: Rows, tried: _Tried
) -> tuple[float, tuple[dict[int, float], dict[int, float]]]:
    """The least of the weights that do best on each source, and the scores by source with it and
    without any estimate."""
    low, high = np.percentile(rows.truth, _TRIMMED)
    usual = (rows.truth >= low) & (rows.truth <= high)
    scores = {
        int(k): [
            float(crps(*_told(some, tried.only(chosen), w), some.truth).mean()) for w in _WEIGHTS
        ]
        for k in np.unique(rows.source)
        if len(some := rows.only(chosen := (rows.source == k) & usual))
    }
    least = min(int(np.argmin(by_weight)) for by_weight in scores.values())
    with_it = {k: by_weight[least] for k, by_weight in scores.items()}
    return float(_WEIGHTS[least]), (with_it, {k: s[0] for k, s in scores.items()})


def _width(rows: Rows, tried: _Tried, weight: float) -> float:
    """The least factor on the spread of what is told with which two hold what they should: what
    was measured and what is estimated are each wide enough already, so that their mixture is too
    wide. It is the least that will do for each source, and for clips that err as a real estimator
    does, which are too few in a source to be told apart in each."""
    value, apart = _told(rows, tried, weight, 0.0)
    _, whole = _told(rows, tried, weight)
    own = np.maximum(whole**2 - apart**2, TINY)
    wanted = np.maximum((0.5 * (rows.truth - value)) ** 2 - apart**2, 0.0)
    factors = np.sqrt(wanted / own)
    parts: list[BoolArray] = [rows.source == k for k in np.unique(rows.source)]
    if rows.estimated.any():
        parts.append(rows.estimated)
    least = max(np.quantile(factors[part], _HELD_TOLD) for part in parts)
    return float(np.clip(least, _NARROWEST, 1.0))


def _told(
    rows: Rows, tried: _Tried, weight: float, width: float = 1.0
) -> tuple[FloatArray, FloatArray]:
    """Values and standard deviations as the service tells them: pooled with what was measured."""
    uncertainty = np.maximum(rows.uncertainty, TINY)
    correction, spread = pooled(
        uncertainty, tried.correction, tried.spread, weight, width, tried.near
    )
    return rows.value + correction, spread


def crps(value: FloatArray, spread: FloatArray, truth: FloatArray) -> FloatArray:
    """Continuous ranked probability score of normal estimates, in their unit; lower is better."""
    z = (truth - value) / spread
    density = np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi)
    return np.asarray(spread * (z * (2.0 * ndtr(z) - 1.0) + 2.0 * density - 1.0 / np.sqrt(np.pi)))
