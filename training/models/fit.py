"""Learn how far each judged measure is off, and how sure it is.

An *estimator* is made of two sets of gradient-boosted trees: one for the correction, the truth
minus what was measured, one for the logarithm of the error that remains. Both see how the clip
was filmed and how the measure's own signal runs, and nothing of other measures, whose company
differs from one make of golfer to the next. With the measured value itself the correction grows
along one straight line, so that what is estimated rises with what is measured. Clips count by how
rare their truth is, so that no estimate is drawn toward the swing that happens to be usual among
simulated players, which would hide the faults of the others.

Which measures are corrected is decided by sources left out (:mod:`training.models.trial`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from sklearn.ensemble import HistGradientBoostingRegressor

from service.analysis.faults import CATALOGUE
from service.analysis.judging.features import FEATURE_NAMES, stretched_at
from service.analysis.measures.definition import Measure
from service.analysis.measures.general import TEMPO_RATIO
from service.analysis.types import BoolArray, FloatArray, View
from training.data.rows import Rows

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
_FARTHEST: Final[float] = 4.0
"""Errors beyond this many robust standard deviations tell nothing more of the usual one."""
_HELD: Final[float] = 0.955
"""Share of the truths that two spreads must hold, on each source left out; as in a normal one."""
_LINES: Final[FloatArray] = np.linspace(0.0, 0.3, 13)
"""Slopes that are tried; none below 0, so that no estimate is drawn toward the usual swing."""
_BINS: Final[int] = 12
"""Kinds of swing, by their truth, whose rarity is told."""
_LEAST_SHARE: Final[float] = 0.02
"""Share of the clips that a bin of truths is taken to hold at least when it is weighed."""
LEAST_SEEN: Final[float] = 0.05
"""Share of the clips in which a feature must be there to be looked at; a judgement."""
_MAD_TO_SD: Final[float] = 1.4826
"""Standard deviations of a normal distribution in a median absolute deviation."""
_LEAST_ERROR: Final[float] = 0.05
"""Robust spreads added to an error before its logarithm: what was hit by chance counts little."""
TINY: Final[float] = 1e-9
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


@dataclass(frozen=True)
class _Clips:
    """What trees see of clips, shape (n, n_columns), which source each is of, and its weight."""

    known: FloatArray
    source: NDArray[np.int64]
    weight: FloatArray

    def only(self, chosen: BoolArray) -> _Clips:
        """The clips for which a mask of shape (n,) is true."""
        return _Clips(self.known[chosen], self.source[chosen], self.weight[chosen])

    def fitted(
        self, settings: Mapping[str, Any], target: FloatArray
    ) -> HistGradientBoostingRegressor:
        """Trees fitted on clips drawn by weight, which is ten times faster than weighing them."""
        rng = np.random.default_rng(0)
        drawn = rng.choice(len(target), len(target), p=self.weight / self.weight.sum())
        return HistGradientBoostingRegressor(**settings).fit(self.known[drawn], target[drawn])

    def told_left_out(self, settings: Mapping[str, Any], target: FloatArray) -> FloatArray:
        """What trees that were fitted on the other sources tell of each clip, shape (n,)."""
        told = np.empty(len(target))
        for held in left_out(self.source):
            told[held] = self.only(~held).fitted(settings, target[~held]).predict(self.known[held])
        return told


def fit(measure: Measure, view: View, rows: Rows) -> Estimator:
    """Fit one estimator.

    The spread is learnt from what the correction leaves on sources left out, one after the other,
    or on halves of one source, and then widened so that two of it hold 95 % on each: a player is no
    likelier to be of the make that is told best.
    """
    columns = columns_of(measure)
    columns = columns[np.isfinite(rows.features[:, columns]).mean(axis=0) >= LEAST_SEEN]
    low, high = np.nanpercentile(rows.features[:, columns], _KNOWN, axis=0).astype(np.float32)
    known = np.clip(rows.features[:, columns], low, high).astype(np.float64)
    clips = _Clips(known, rows.source, _weights(rows.truth))
    slope, center = _line(rows, clips.weight)
    off = rows.truth - rows.value - slope * (rows.value - center)
    limit = _FARTHEST * _robust_spread(off)
    target = np.clip(off, -limit, limit)
    left = off - clips.told_left_out(_TREES, target)
    size = np.log(np.abs(left) + _LEAST_ERROR * _robust_spread(left) + 1e-6)
    ratio = np.abs(left) / np.exp(clips.told_left_out(_SPREAD_TREES, size))
    return Estimator(
        measure=measure.name,
        view=view,
        columns=columns,
        low=low,
        high=high,
        slope=slope,
        center=center,
        correction=clips.fitted(_TREES, target),
        spread=clips.fitted(_SPREAD_TREES, size),
        widened=_widening(ratio, clips.weight, rows.source),
        reach=_reach(rows.value),
    )


def _reach(values: FloatArray) -> tuple[float, float]:
    low, high = np.percentile(values, _KNOWN)
    return float(low), float(high)


def _widening(ratio: FloatArray, weight: FloatArray, source: NDArray[np.int64]) -> float:
    """Factor on spreads so that two of them hold what they should of each source."""
    own = (source == name for name in np.unique(source))
    return max(_quantile(ratio[held], weight[held], _HELD) for held in own) / 2.0


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
    place = np.clip((_BINS * (truth - low) / max(high - low, TINY)).astype(np.intp), 0, _BINS - 1)
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


def left_out(source: NDArray[np.int64]) -> Iterator[BoolArray]:
    """Masks of shape (n,) of the rows to leave out: a source each time, or halves of the only
    one."""
    names = np.unique(source)
    if len(names) > 1:
        yield from (source == name for name in names)
        return
    half = np.arange(len(source)) < len(source) // 2
    yield from (half, ~half)


def _robust_spread(values: FloatArray) -> float:
    return float(_MAD_TO_SD * np.median(np.abs(values - np.median(values)))) + TINY
