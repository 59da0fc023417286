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

    @property
    def worth(self) -> float:
        """Faults told, less what wrong verdicts cost.

        >>> Verdicts(decided=900, wrong=2, there=50, told=40).worth
        30.0
        """
        return self.told - WRONG_COSTS * self.wrong


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


def verdicts_by(data: Dataset, measure: Measure, view: View) -> Verdicts:
    """Verdicts of all faults that go by a measure in a view, before any calibration."""
    told = [
        _verdicts(data, definition, view)
        for definition in CATALOGUE.values()
        if any(each.measure.name == measure.name for each in definition.criteria.get(view, ()))
    ]
    return Verdicts(*(int(sum(each)) for each in zip(*told, strict=True)))


def _verdicts(data: Dataset, definition: FaultDefinition, view: View) -> tuple[int, ...]:
    scores, margin = scores_of(data, definition, view)
    present, absent = scores >= USEFUL_CONFIDENCE, scores <= 1.0 - USEFUL_CONFIDENCE
    there = _shown(data, definition, view) & (margin >= 1.0)
    wrong = (present & (margin <= 0.0)) | (absent & (margin > 0.0))
    counted = present | absent, wrong, there, there & present
    return tuple(int(np.count_nonzero(each)) for each in counted)


def _shown(data: Dataset, definition: FaultDefinition, view: View) -> BoolArray:
    fault = data.fault_index(definition.name)
    return data.of_view(view) & data.shown[:, fault] & np.isfinite(data.margin[:, fault])
