"""Everything that is learned from a data set: estimators, calibrations, what is familiar."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.analysis.faults import CATALOGUE
from service.analysis.judging.calibration import LogisticCalibration
from service.analysis.judging.estimates import USUAL, Range
from service.analysis.judging.features import FEATURE_NAMES, JUDGED
from service.analysis.measures.definition import Measure
from service.analysis.types import FloatArray, View
from training.data.dataset import Dataset
from training.data.rows import Rows
from training.models.calibration import calibrate
from training.models.export import Learned
from training.models.fit import LEAST_SEEN, Estimator, fit, pairs
from training.models.trial import Trial, try_left_out
from training.models.verdicts import scores_of, verdicts_by, worth_less
from training.processes import spread_over

Features = NDArray[np.float32]
_MEASURES: Final = {measure.name: measure for measure in JUDGED}
_FAMILIAR: Final[float] = 99.0
"""Percent of the clips of a source left out that count as familiar by what the others hold."""


@dataclass(frozen=True)
class _Outcome:
    """How one estimator did, what it says of sources left out, and itself where it came nearer to
    the truth on all of them."""

    trial: Trial
    value: FloatArray
    spread: FloatArray
    estimator: Estimator | None


def learn(
    data: Dataset,
    chosen: Sequence[tuple[Measure, View]] | None = None,
    jobs: int = 1,
) -> tuple[Learned, list[Trial]]:
    """Fit on all sources what did better on every source left out, and calibrate on those.

    Better is what comes nearer to the truth on every one of them and makes verdicts that are not
    worth less by more than chance (:func:`_chosen`).

    Parameters
    ----------
    chosen
        The measures to estimate and from which view; all that faults are judged by unless given.

    Returns
    -------
    what the service takes, and how each estimator did on sources left out
    """
    work, places = [], []
    for measure, view in chosen or pairs():
        rows, where = data.rows_of(measure, view)
        work.append((measure.name, view, rows, data.sources))
        places.append(where)
    told = spread_over(jobs, _learn_one, work, "estimators")
    estimated = data.copy_of_values()
    for one, where in zip(told, places, strict=True):
        if one.trial.nearer:
            estimated.put(_MEASURES[one.trial.measure], where, one.value, one.spread)
    trials = [_chosen(one.trial, data, estimated) for one in told]
    estimators = tuple(
        one.estimator
        for one, trial in zip(told, trials, strict=True)
        if trial.served and one.estimator is not None
    )
    return Learned(estimators, _calibrations(estimated), _ranges(data)), trials


def _learn_one(work: tuple[str, View, Rows, tuple[str, ...]]) -> _Outcome:
    name, view, rows, sources = work
    measure = _MEASURES[name]  # by name, as a measure's signal can't be sent to another process
    trial, value, spread = try_left_out(measure, view, rows, sources)
    if not trial.nearer:
        return _Outcome(trial, value, spread, None)
    estimator = replace(fit(measure, view, rows), weight=trial.weight, width=trial.width)
    return _Outcome(trial, value, spread, estimator)


def _chosen(trial: Trial, data: Dataset, estimated: Dataset) -> Trial:
    """The trial with what is served: the estimator unless verdicts by it are worth less, by more
    than chance, than those by what was measured, which then is put back among what is estimated.

    Both go by what is estimated of other measures, as far as it has not been put back.
    """
    if not trial.nearer:
        return trial
    measure, view = _MEASURES[trial.measure], View(trial.view)
    plain = estimated.copy_of_values()
    _put_back(plain, data, measure, view)
    by_estimate, worth = verdicts_by(estimated, measure, view)
    by_measure, worth_measured = verdicts_by(plain, measure, view)
    served = not worth_less(worth, worth_measured)
    if not served:
        _put_back(estimated, data, measure, view)
    return replace(trial, verdicts=by_estimate, verdicts_measured=by_measure, served=served)


def _put_back(estimated: Dataset, data: Dataset, measure: Measure, view: View) -> None:
    """Put what was measured in the place of what is estimated."""
    places = np.flatnonzero(data.of_view(view))
    value, spread = (each[places] for each in data.value_of(measure))
    estimated.put(measure, places, value, spread)


def _calibrations(estimated: Dataset) -> dict[tuple[str, View], LogisticCalibration]:
    """Of every fault and view, on estimates of sources left out."""
    calibrations = {}
    for definition in CATALOGUE.values():
        for view in definition.views:
            scores, margin = scores_of(estimated, definition, view)
            known = np.isfinite(scores) & np.isfinite(margin)
            calibrations[definition.name, view] = calibrate(scores[known], margin[known] > 0.0)
    return calibrations


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
