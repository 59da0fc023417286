"""Everything that is learned from a data set: estimators, calibrations, what is familiar."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray
from tqdm import tqdm

from service.analysis.faults import CATALOGUE, FaultDefinition
from service.analysis.judging.calibration import LogisticCalibration
from service.analysis.judging.estimates import USUAL, Range
from service.analysis.judging.features import FEATURE_NAMES, JUDGED
from service.analysis.judging.weighing import criterion_score
from service.analysis.measures.definition import Measure
from service.analysis.types import FloatArray, View
from training.data.dataset import Dataset
from training.data.rows import Rows
from training.models.calibration import calibrate
from training.models.export import Learned
from training.models.fit import LEAST_SEEN, Estimator, Trial, fit, pairs, try_left_out

Features = NDArray[np.float32]
_MEASURES: Final = {measure.name: measure for measure in JUDGED}
_FAMILIAR: Final[float] = 99.0
"""Percent of the clips of a source left out that count as familiar by what the others hold."""


@dataclass(frozen=True)
class _Told:
    """How one estimator did, what it says of sources left out, and itself where it is served."""

    trial: Trial
    value: FloatArray
    spread: FloatArray
    estimator: Estimator | None


def learn(
    data: Dataset,
    chosen: Sequence[tuple[Measure, View]] | None = None,
    jobs: int = 1,
    *,
    quiet: bool = False,
) -> tuple[Learned, list[Trial]]:
    """Fit on all sources what did better on every source left out, and calibrate on those.

    Parameters
    ----------
    chosen
        The measures to estimate and from which view; all that faults are judged by unless given.

    Returns
    -------
    what the service takes, and how each estimator did on sources left out
    """
    wanted = list(chosen or pairs())
    rows = [data.rows_of(measure, view) for measure, view in wanted]
    work = [
        (measure.name, view, seen, data.sources)
        for (measure, view), (seen, _) in zip(wanted, rows, strict=True)
    ]
    bar = partial(tqdm, total=len(work), desc="estimators", disable=quiet)
    if jobs == 1:
        told = list(bar(map(_learn_one, work)))
    else:
        with ProcessPoolExecutor(jobs) as pool:
            told = list(bar(pool.map(_learn_one, work)))
    estimated = data.copy_of_values()
    for (measure, _), (_, places), one in zip(wanted, rows, told, strict=True):
        if one.estimator is not None:
            estimated.put(measure, places, one.value, one.spread)
    estimators = tuple(one.estimator for one in told if one.estimator is not None)
    learned = Learned(estimators, _calibrations(estimated), _ranges(data))
    return learned, [one.trial for one in told]


def _learn_one(work: tuple[str, View, Rows, tuple[str, ...]]) -> _Told:
    name, view, rows, sources = work
    measure = _MEASURES[name]  # by name, as a measure's signal can't be sent to another process
    trial, value, spread = try_left_out(measure, view, rows, sources)
    if not trial.served:
        return _Told(trial, value, spread, None)
    estimator = replace(fit(measure, view, rows), weight=trial.weight, width=trial.width)
    return _Told(trial, value, spread, estimator)


def _calibrations(estimated: Dataset) -> dict[tuple[str, View], LogisticCalibration]:
    """Of every fault and view, on estimates of sources left out."""
    calibrations = {}
    for definition in CATALOGUE.values():
        for view in definition.views:
            scores, margin = scores_of(estimated, definition, view)
            known = np.isfinite(scores) & np.isfinite(margin)
            calibrations[definition.name, view] = calibrate(scores[known], margin[known] > 0.0)
    return calibrations


def scores_of(
    data: Dataset, definition: FaultDefinition, view: View
) -> tuple[FloatArray, FloatArray]:
    """The rule's scores of the clips of a view, NaN where it can't be assessed, and the margins.

    Returns
    -------
    two arrays of shape (n,), NaN for clips of the other view
    """
    seen = data.of_view(view) & data.assessable[:, data.fault_index(definition.name)]
    worst = np.full(len(data), np.inf)
    for criterion in definition.criteria[view]:
        value, spread = data.value_of(criterion.measure)
        worst = np.fmin(worst, criterion_score(criterion, value, spread))
    scores = np.where(seen & np.isfinite(worst), worst, np.nan)
    return scores, data.margin[:, data.fault_index(definition.name)]


def _ranges(data: Dataset) -> dict[View, Range]:
    """Between which values features lie; how many may lie outside is told by sources left out."""
    columns = np.array(
        [k for k, name in enumerate(FEATURE_NAMES) if not name.startswith("measure.")],
        dtype=np.intp,
    )
    ranges = {}
    for view in View:
        rows = data.features[data.of_view(view)][:, columns]
        source = data.source[data.of_view(view)]
        seen = np.isfinite(rows).mean(axis=0) >= LEAST_SEEN
        low, high = np.nanpercentile(rows[:, seen], USUAL, axis=0).astype(np.float32)
        shares = []
        for left_out in np.unique(source) if len(np.unique(source)) > 1 else ():
            held = source == left_out
            outside = _outside(rows[held][:, seen], rows[~held][:, seen])
            shares.append(float(np.percentile(outside, _FAMILIAR)))
        ranges[view] = Range(columns[seen], low, high, max(shares, default=1.0))
    return ranges


def _outside(rows: Features, known: Features) -> FloatArray:
    """Share of each row's features outside the usual range of other rows, shape (n,)."""
    low, high = np.nanpercentile(known, USUAL, axis=0)
    finite = np.isfinite(rows)
    beyond = ((rows < low) | (rows > high)) & finite
    return np.asarray(beyond.sum(axis=1) / np.maximum(finite.sum(axis=1), 1))
