"""What was measured held against the criteria of many faults, in many swings at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from service.analysis.faults import Criterion, FaultDefinition
from service.analysis.measures.definition import MeasuredValue
from service.analysis.types import BoolArray, FloatArray, Reason, View

DECISIVE: Final[tuple[float, float]] = (0.11, 0.86)
"""Scores up to and from which even a vague measure tells, or two that must both lie beyond their
thresholds. They differ, as a score knows nothing of how rare faults are. Set on makes of simulated
golfers left out (1,917 clips of four makes, estimators and the network that places positions learnt
without each). With 0.14 and 0.90, and 0.85 for two measures together, 655 faults are rightly told
in place of 697, and 54 verdicts of 10,824 are wrong in place of 48 of 10,245. With 0.10 for 0.11
2 % fewer verdicts can be given; of what 0.82 for 0.86 would add one in seven is wrong."""
_VAGUE: Final[float] = 0.2
"""A measure is vague when its uncertainty exceeds this share of the way from the threshold to a
marked fault; with less, it is called uncertain near the threshold. Set on simulated makes of
golfers left out (600 clips each): with 0.3, 1 % more verdicts can be given, a tenth more are wrong,
and more findings are uncertain."""
_WITHIN_MARKED: Final[float] = 0.9
"""Share of that way that the uncertainty of a measure may have at most by which alone a fault is
told as present. A vaguer value that lies far beyond is often an error: with 1.5 14 faults more are
rightly told and six verdicts more are wrong. Where a second measure has to lie beyond its own
threshold this is not asked."""
_FAR_BEYOND: Final[float] = 4.0
"""Uncertainties beyond its threshold from which a value tells however vague it is. Nothing changes
by it on makes left out and on the stranger's golfer; on motion capture, whose faults are larger, 11
of 323 marked ones more are told and no verdict more is wrong. With 2.5 it would be 24, but so would
be three real swings whose hands seem to rise by 11 to 19 % of body height, one of them by eye for a
wrist marked elsewhere."""

_Z_ABSENT, _Z_PRESENT = map(float, ndtri(DECISIVE))
"""The same as distances from the threshold, in standard deviations."""
_LEAST_RATIO: Final[float] = 0.01
"""Of a ratio to its threshold; less is no ratio of times, and has no logarithm at zero."""
_NOT_MEASURED: Final = (float("nan"), float("nan"))


@dataclass(frozen=True, eq=False)
class Criteria:
    """The criteria of some faults in one view, those of each fault side by side.

    Attributes
    ----------
    view : View
    each : the criteria
    parts : which of them each fault has, by its name; only of faults that the view shows
    first : array of shape (n_faults,)
        The first of each of these faults.
    fault : array of shape (n_criteria,)
        Which of these faults each is of.
    thresholds, greys : arrays of shape (n_criteria,)
    sides : array of shape (n_criteria,)
        1 where larger values speak for the fault, -1 where smaller ones do.
    marked : array of shape (n_criteria,)
        How far a marked fault lies beyond the threshold.
    ratios : boolean array of shape (n_criteria,)
        Whether the measure is a ratio.
    alone : boolean array of shape (n_criteria,)
        Whether its fault has no other.
    """

    view: View
    each: tuple[Criterion, ...]
    parts: Mapping[str, slice]
    first: NDArray[np.intp]
    fault: NDArray[np.intp]
    thresholds: FloatArray
    greys: FloatArray
    sides: FloatArray
    marked: FloatArray
    ratios: BoolArray
    alone: BoolArray


@lru_cache(maxsize=64)
def criteria_of(definitions: tuple[FaultDefinition, ...], view: View) -> Criteria:
    """The criteria of faults, those of one after those of the other."""
    each: list[Criterion] = []
    parts = dict[str, slice]()
    for definition in definitions:
        own = definition.criteria.get(view, ())
        if own:
            parts[definition.name] = slice(len(each), len(each) + len(own))
            each += own
    sizes = [part.stop - part.start for part in parts.values()]
    return Criteria(
        view,
        tuple(each),
        parts,
        np.array([part.start for part in parts.values()], dtype=np.intp),
        np.repeat(np.arange(len(parts)), sizes),
        np.array([criterion.threshold for criterion in each]),
        np.array([criterion.grey for criterion in each]),
        np.array([_side(criterion) for criterion in each]),
        np.array([_marked(criterion) for criterion in each]),
        np.array([criterion.measure.ratio for criterion in each], dtype=bool),
        np.repeat(np.array(sizes, dtype=np.intp) == 1, sizes),
    )


@dataclass(frozen=True)
class Weighed:
    """How far swings meet the criteria of faults.

    Attributes
    ----------
    scores : array of shape (n_swings, n_faults)
        Chance that every value of a fault lies beyond its threshold: that of the least met; NaN
        where one was not measured.
    most : array of shape (n_swings, n_criteria)
        The uncertainty that a value may have at most to judge by. One criterion that is clearly not
        met settles the matter, however vague the others are; that the only one is met takes an
        uncertainty smaller than a marked fault.
    """

    scores: FloatArray
    most: FloatArray


def weigh(criteria: Criteria, measured: Sequence[Sequence[MeasuredValue | Reason]]) -> Weighed:
    """Hold what was measured in some swings against the criteria of faults.

    Parameters
    ----------
    measured : of each swing what was measured for each criterion, in their order
    """
    numbers = np.array(
        [
            (each.value, each.uncertainty) if isinstance(each, MeasuredValue) else _NOT_MEASURED
            for own in measured
            for each in own
        ]
    )
    return weigh_numbers(criteria, *numbers.reshape(len(measured), -1, 2).transpose(2, 0, 1))


def weigh_numbers(criteria: Criteria, values: FloatArray, uncertainties: FloatArray) -> Weighed:
    """The same of numbers.

    Parameters
    ----------
    values, uncertainties : arrays of shape (n_swings, n_criteria)
        NaN where nothing was measured.
    """
    apart, larger = _held_against(values, criteria.thresholds, criteria.ratios)
    excess = criteria.sides * apart
    scores = _score(excess, uncertainties / larger, criteria.greys)
    least = np.minimum.reduceat(scores, criteria.first, axis=1)
    most = larger * _most(criteria, excess)
    most[least.take(criteria.fault, axis=1) <= DECISIVE[0]] = np.inf
    return Weighed(least, most)


def _most(criteria: Criteria, excess: FloatArray) -> FloatArray:
    """The uncertainty up to which a value tells what it tells of its own criterion."""
    there = excess > 0.0
    least_sure = np.where(there, _Z_PRESENT, _Z_ABSENT)
    decisive = np.sqrt(np.maximum((excess / least_sure) ** 2 - criteria.greys**2, 0.0))
    alone = criteria.alone & there
    within = np.maximum(_WITHIN_MARKED * criteria.marked, excess / _FAR_BEYOND)
    told = np.where(alone, np.minimum(decisive, within), decisive)
    return np.maximum(_VAGUE * criteria.marked, told)


def _side(criterion: Criterion) -> float:
    """1 where larger values speak for the fault, -1 where smaller ones do."""
    return 1.0 if criterion.below is None else -1.0


def _marked(criterion: Criterion) -> float:
    """How far a marked fault lies beyond the threshold."""
    apart, _ = _held_against(criterion.marked, criterion.threshold, criterion.measure.ratio)
    return _side(criterion) * float(apart)


def _held_against(
    value: FloatArray | float, threshold: FloatArray | float, is_ratio: BoolArray | bool
) -> tuple[FloatArray, FloatArray]:
    """How far a value lies above its threshold, in the measure's unit at the threshold, and how
    many times larger errors are there than at the threshold.

    Errors of a ratio grow with it, so that half is as far as twice and an error of some percent
    means the same on either side; of other measures it is the difference, and errors are the same.

    >>> apart, larger = _held_against(np.array([1.0, 2.0, 4.0]), 2.0, is_ratio=True)
    >>> apart.round(3).tolist(), larger.tolist()
    ([-1.386, 0.0, 1.386], [0.5, 1.0, 2.0])
    """
    times = np.maximum(value / np.where(is_ratio, threshold, 1.0), _LEAST_RATIO)
    larger = np.where(is_ratio, times, 1.0)
    return np.where(is_ratio, threshold * np.log(larger), value - np.asarray(threshold)), larger


def _score(
    excess: FloatArray | float, uncertainty: FloatArray | float, grey: FloatArray | float
) -> FloatArray:
    return np.asarray(ndtr(excess / np.hypot(uncertainty, grey)))
