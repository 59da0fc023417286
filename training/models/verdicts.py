"""What the rule says of clips, by what was measured or by what is estimated, and whether it is so.

An estimator that comes nearer to the truth need not bring better verdicts: one of a tempo that errs
less everywhere, and is less sure of it near the threshold, leaves hurried swings untold that
the measure as it is tells rightly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.faults import CATALOGUE, FaultDefinition
from service.analysis.judging.rules import USEFUL_CONFIDENCE
from service.analysis.judging.weighing import criteria_of, weigh_numbers
from service.analysis.measures.definition import Measure
from service.analysis.types import BoolArray, FloatArray, View
from training.data.dataset import Dataset

WRONG_COSTS: Final[float] = 5.0
"""Faults that must be told more, for one verdict more that is wrong."""
CHANCE: Final[float] = 2.0
"""Standard errors by which verdicts must be worth less to be so by more than chance."""


@dataclass(frozen=True)
class Verdicts:
    """What the rule says of some clips.

    ``decided`` counts what is called present or absent, ``wrong`` what of that lies on the other
    side of the threshold than the truth. Of the faults that are truly there beyond the grey zone
    and that the footage shows, be it too vaguely to judge, ``there``, so many are ``told``.
    """

    decided: int
    wrong: int
    there: int
    told: int


def scores_of(
    data: Dataset, definition: FaultDefinition, view: View
) -> tuple[FloatArray, FloatArray]:
    """The rule's scores of the clips of a view, NaN where it can't be assessed, and the margins.

    Returns
    -------
    two arrays of shape (n,), NaN for clips of the other view
    """
    criteria = criteria_of((definition,), view)
    numbers = [data.value_of(criterion.measure) for criterion in criteria.each]
    values, uncertainties = (np.stack(each, axis=1) for each in zip(*numbers, strict=True))
    weighed = weigh_numbers(criteria, values, uncertainties)
    sharp = (uncertainties <= weighed.most).all(axis=1)
    seen = _shown(data, definition, view) & sharp
    scores = np.where(seen, weighed.scores[:, 0], np.nan)
    return scores, data.margin[:, data.fault_index(definition.name)]


def verdicts_by(data: Dataset, measure: Measure, view: View) -> tuple[Verdicts, FloatArray]:
    """Verdicts of all faults that go by a measure in a view, before any calibration.

    Returns
    -------
    the verdicts counted, and what they are worth clip by clip, shape (n_faults, n): 1 for a fault
    told that is truly there beyond the grey zone, less :data:`WRONG_COSTS` for a verdict that is
    wrong
    """
    calls = np.array([_calls(data, definition, view) for definition in _judged_by(measure, view)])
    decided, wrong, there, told = (int(np.count_nonzero(calls[:, k])) for k in range(4))
    return Verdicts(decided, wrong, there, told), calls[:, 3] - WRONG_COSTS * calls[:, 1]


def worth_less(one: FloatArray, other: FloatArray) -> bool:
    """Whether verdicts are worth less than others on the same clips by more than chance.

    >>> worth_less(np.zeros(9), np.ones(9)), worth_less(np.zeros(2), np.ones(2))
    (True, False)
    """
    lost = other - one
    return bool(lost.sum() > CHANCE * np.sqrt(np.square(lost).sum()))


def _judged_by(measure: Measure, view: View) -> list[FaultDefinition]:
    return [
        definition
        for definition in CATALOGUE.values()
        if any(each.measure.name == measure.name for each in definition.criteria.get(view, ()))
    ]


def _calls(data: Dataset, definition: FaultDefinition, view: View) -> tuple[BoolArray, ...]:
    """Which clips are decided, which of them wrongly, where the fault is there and footage shows
    it, and where it is told there; each of shape (n,)."""
    scores, margin = scores_of(data, definition, view)
    present, absent = scores >= USEFUL_CONFIDENCE, scores <= 1.0 - USEFUL_CONFIDENCE
    there = _shown(data, definition, view) & (margin >= 1.0)
    wrong = (present & (margin <= 0.0)) | (absent & (margin > 0.0))
    return present | absent, wrong, there, there & present


def _shown(data: Dataset, definition: FaultDefinition, view: View) -> BoolArray:
    fault = data.fault_index(definition.name)
    return data.of_view(view) & data.shown[:, fault] & np.isfinite(data.margin[:, fault])
