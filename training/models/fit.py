"""Learn how far each judged measure is off, and how sure it is.

An *estimator* is made of two sets of gradient-boosted trees: one for the correction, the truth
minus what was measured, one for the logarithm of the error that remains. Both see how the clip
was filmed and how the measure's own signal runs, and nothing of other measures, whose company
differs from one make of golfer to the next. With the measured value itself the correction grows
along one straight line, so that what is estimated rises with what is measured. Clips count by how
rare their truth is, so that no estimate is drawn toward the swing that happens to be usual among
simulated players, which would hide the faults of the others.

Which measures are corrected is decided by sources left out: an estimator fitted on the others must
come nearer to the truth (continuous ranked probability score) on every one of them, and the
verdicts that go by it must not be worth less (:mod:`training.models.learn`).

References
----------
T. Gneiting, A. E. Raftery, Strictly proper scoring rules, prediction, and estimation, Journal of
the American Statistical Association 102 (2007) 359-378 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr
from sklearn.ensemble import HistGradientBoostingRegressor

from service.analysis.faults import CATALOGUE
from service.analysis.judging.estimates import nearness, pooled
from service.analysis.judging.features import FEATURE_NAMES, stretched_at
from service.analysis.measures.definition import Measure
from service.analysis.measures.general import TEMPO_RATIO
from service.analysis.types import BoolArray, FloatArray, View
from training.data.rows import Rows
from training.models.verdicts import Verdicts

_TREES: Final = {
    "max_iter": 120,
    "learning_rate": 0.08,
    "max_leaf_nodes": 12,
    "min_samples_leaf": 30,
    "l2_regularization": 5.0,
    "max_features": 0.5,
    "early_stopping": False,
    "random_state": 0,
}
_SPREAD_TREES: Final = {**_TREES, "max_iter": 50}
_KNOWN: Final[tuple[float, float]] = (1.0, 99.0)
"""Percentiles of the training clips between which a feature is taken as it is."""
_TRIMMED: Final[tuple[float, float]] = (0.2, 99.8)
"""Percentiles of the truths between which the score is taken: a swing or two in a thousand come out
as no player swings, and would decide it."""
_FARTHEST: Final[float] = 4.0
"""Errors beyond this many robust standard deviations tell nothing more of the usual one."""
_HELD: Final[float] = 0.955
"""Share of the truths that two spreads must hold, on each source left out; as in a normal one."""
_HELD_TOLD: Final[float] = 0.965
"""Likewise of what is told: a little more, for players of yet other makes. With 0.955, on 1,917
clips of makes left out, 4 % more faults are rightly told and a fifth more verdicts are wrong."""
_LINES: Final[FloatArray] = np.linspace(0.0, 0.3, 13)
"""Slopes that are tried; none below 0, so that no estimate is drawn toward the usual swing."""
_BINS: Final[int] = 12
"""Kinds of swing, by their truth, whose rarity is told."""
_LEAST_SHARE: Final[float] = 0.02
"""Share of the clips that a bin of truths is taken to hold at least when it is weighed."""
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
LEAST_SEEN: Final[float] = 0.05
"""Share of the clips in which a feature must be there to be looked at; a judgement."""
_MAD_TO_SD: Final[float] = 1.4826
"""Standard deviations of a normal distribution in a median absolute deviation."""
_LEAST_ERROR: Final[float] = 0.05
"""Robust spreads added to an error before its logarithm: what was hit by chance counts little."""
_TINY: Final[float] = 1e-9
"""Keeps what is divided by off zero."""


@dataclass(frozen=True)
class Estimator:
    """The correction of one measure in one view and its spread; ``weight`` is its share in what is
    told, ``width`` the factor on the spread of that
    (:func:`service.analysis.judging.estimates.pooled`); ``reach`` is the range of measured values
    within which it has that share (:func:`service.analysis.judging.estimates.nearness`)."""

    measure: str
    view: View
    columns: NDArray[np.intp]
    low: NDArray[np.float32]
    high: NDArray[np.float32]
    slope: float
    center: float
    correction: Any
    spread: Any
    widened: float
    reach: tuple[float, float]
    weight: float = 1.0
    width: float = 1.0

    @property
    def name(self) -> str:
        """Name of its file."""
        return f"{self.measure}.{self.view.value}.onnx"

    def estimate(self, rows: Rows) -> tuple[FloatArray, FloatArray]:
        """Estimated values and their standard deviations, each of shape (n,)."""
        known = np.clip(rows.features[:, self.columns], self.low, self.high).astype(np.float64)
        spread = np.exp(self.spread.predict(known)) * self.widened
        grown = self.slope * (rows.value - self.center)
        return rows.value + grown + self.correction.predict(known), spread


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


def pairs() -> Iterator[tuple[Measure, View]]:
    """Every measure that a fault is judged by, with the views in which it is."""
    seen = set()
    for definition in CATALOGUE.values():
        for view, criteria in definition.criteria.items():
            for criterion in criteria:
                key = (criterion.measure.name, view)
                if key not in seen:
                    seen.add(key)
                    yield criterion.measure, view


def columns_of(measure: Measure) -> NDArray[np.intp]:
    """Features that bear on a measure: how the clip was filmed, how steady limbs and feet are in
    it, how limbs have stretched by where the measure looks, how surely the positions were placed,
    and the measure's own uncertainty and the shape of its own signal. How a player stands
    and times the swing is left out: it tells who swings, which would draw estimates toward what is
    usual among such players. Only the tempo sees how slowly the hands start and turn, since that
    says how surely those moments were told."""
    return np.array(
        [k for k, name in enumerate(FEATURE_NAMES) if _bears_on(name, measure)], dtype=np.intp
    )


def _bears_on(feature: str, measure: Measure) -> bool:
    kind, subject, *rest = feature.split(".")
    if kind == "measure":
        return subject == measure.name and rest == ["uncertainty"]
    if kind in ("stretch", "wrists"):
        return rest[-1] == f"p{stretched_at(measure)}"
    if kind == "position":
        return rest != ["time"]
    if kind == "pace":
        return measure is TEMPO_RATIO
    return kind in ("clip", "length", "slide") or (
        kind in ("shape", "peak") and subject == measure.name
    )


def fit(measure: Measure, view: View, rows: Rows) -> Estimator:
    """Fit one estimator.

    The spread is learnt from what the correction leaves on sources left out, one after the other,
    or on halves of one source, and then widened so that two of it hold 95 % on each: a player is no
    likelier to be of the make that is told best.
    """
    columns = columns_of(measure)
    seen = np.isfinite(rows.features[:, columns]).mean(axis=0)
    columns = columns[seen >= LEAST_SEEN]
    low, high = np.nanpercentile(rows.features[:, columns], _KNOWN, axis=0).astype(np.float32)
    known = np.clip(rows.features[:, columns], low, high).astype(np.float64)
    weight = _weights(rows.truth)
    slope, center = _line(rows, weight)
    off = rows.truth - rows.value - slope * (rows.value - center)
    limit = _FARTHEST * _robust_spread(off)
    target = np.clip(off, -limit, limit)
    left = _predicted_left_out(known, target, rows.source, weight, _TREES, off)
    size = np.log(np.abs(left) + _LEAST_ERROR * _robust_spread(left) + 1e-6)
    unexplained = _predicted_left_out(known, size, rows.source, weight, _SPREAD_TREES, size)
    ratio = np.abs(left) / np.exp(size - unexplained)
    return Estimator(
        measure.name,
        view,
        columns,
        low,
        high,
        slope,
        center,
        _trees(_TREES, known, target, weight),
        _trees(_SPREAD_TREES, known, size, weight),
        _widening(ratio, weight, rows.source),
        _reach(rows.value),
    )


def _reach(values: FloatArray) -> tuple[float, float]:
    low, high = np.percentile(values, _KNOWN)
    return float(low), float(high)


def _widening(ratio: FloatArray, weight: FloatArray, source: NDArray[np.int64]) -> float:
    """Factor on spreads so that two of them hold what they should of each source."""
    own = (source == name for name in np.unique(source))
    return max(_quantile(ratio[held], weight[held], _HELD) for held in own) / 2.0


def _trees(
    settings: Mapping[str, Any], known: FloatArray, target: FloatArray, weight: FloatArray
) -> HistGradientBoostingRegressor:
    """Trees fitted on clips drawn by their weight, which is ten times faster than weighing them."""
    rng = np.random.default_rng(0)
    drawn = rng.choice(len(target), len(target), p=weight / weight.sum())
    return HistGradientBoostingRegressor(**settings).fit(known[drawn], target[drawn])


def _quantile(values: FloatArray, weight: FloatArray, share: float) -> float:
    """The value below which a share of the weight lies."""
    order = np.argsort(values)
    gathered = np.cumsum(weight[order]) / weight.sum()
    return float(values[order][np.searchsorted(gathered, share)])


def _weights(truth: FloatArray) -> FloatArray:
    """Weights by the root of how rare a truth is, mean 1, shape (n,).

    The root lies between counting every clip alike, which draws estimates toward the usual swing,
    and counting every kind of swing alike, which makes much of few clips.
    """
    low, high = np.percentile(truth, _KNOWN)
    place = np.clip((_BINS * (truth - low) / max(high - low, _TINY)).astype(np.intp), 0, _BINS - 1)
    count = np.bincount(place, minlength=_BINS)
    weight = 1.0 / np.sqrt(np.maximum(count[place], _LEAST_SHARE * len(truth)))
    return np.asarray(weight / weight.mean())


def _line(rows: Rows, weight: FloatArray) -> tuple[float, float]:
    """Slope and middle of the straight line along which errors grow with what was measured.

    The slope of least absolute error among some, so that far-off clips count little.
    """
    center = float(np.median(rows.value))
    about = rows.value - center
    off = rows.truth - rows.value
    errors = [
        (weight * np.abs(off - s * about - np.median(off - s * about))).mean() for s in _LINES
    ]
    return float(_LINES[int(np.argmin(errors))]), center


def try_left_out(
    measure: Measure, view: View, rows: Rows, names: Sequence[str]
) -> tuple[Trial, FloatArray, FloatArray]:
    """Estimate the clips of each source by what was fitted on the others.

    Returns
    -------
    the trial, and the estimates and their standard deviations, each of shape (n,)
    """
    tried = _Tried(*(np.empty(len(rows)) for _ in range(3)))
    for held in _left_out(rows.source):
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
    own = np.maximum(whole**2 - apart**2, _TINY)
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
    uncertainty = np.maximum(rows.uncertainty, _TINY)
    correction, spread = pooled(
        uncertainty, tried.correction, tried.spread, weight, width, tried.near
    )
    return rows.value + correction, spread


def _predicted_left_out(
    known: FloatArray,
    target: FloatArray,
    source: NDArray[np.int64],
    weight: FloatArray,
    trees: Mapping[str, Any],
    actual: FloatArray,
) -> FloatArray:
    """What trees fitted on the other sources leave of ``actual``, shape (n,)."""
    left = np.empty(len(target))
    for held in _left_out(source):
        model = _trees(trees, known[~held], target[~held], weight[~held])
        left[held] = actual[held] - model.predict(known[held])
    return left


def _left_out(source: NDArray[np.int64]) -> Iterator[BoolArray]:
    """Masks of the rows to leave out: a source each time, or halves of the only one."""
    names = np.unique(source)
    if len(names) > 1:
        yield from (source == name for name in names)
        return
    half = np.arange(len(source)) < len(source) // 2
    yield from (half, ~half)


def _robust_spread(values: FloatArray) -> float:
    return float(_MAD_TO_SD * np.median(np.abs(values - np.median(values)))) + _TINY


def crps(value: FloatArray, spread: FloatArray, truth: FloatArray) -> FloatArray:
    """Continuous ranked probability score of normal estimates, in their unit; lower is better."""
    z = (truth - value) / spread
    density = np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi)
    return np.asarray(spread * (z * (2.0 * ndtr(z) - 1.0) + 2.0 * density - 1.0 / np.sqrt(np.pi)))
