"""From measures to findings: what is present, what is absent, what can't be told."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from service.analysis.events.normalized import GRID
from service.analysis.faults import CATALOGUE, Criterion, FaultDefinition
from service.analysis.judging.calibration import (
    UNCALIBRATED,
    LogisticCalibration,
    chances_by,
)
from service.analysis.judging.shown import FilmingConditions, not_shown
from service.analysis.judging.weighing import Criteria, criteria_of, weigh
from service.analysis.measured import MeasuredSwing
from service.analysis.measures.definition import MeasuredValue
from service.analysis.pose.geometry import frame_interval
from service.analysis.types import (
    Evidence,
    Finding,
    FloatArray,
    Grade,
    Moment,
    Reason,
    Status,
    View,
)

USEFUL_CONFIDENCE: Final[float] = 0.7
"""Below this the finding is uncertain: three in ten such verdicts would be wrong. A judgement:
from 0.6 on, verdicts on motion capture were wrong twice as often."""


Calibrations = Callable[[str, View], LogisticCalibration]


def _uncalibrated(_fault: str, _view: View) -> LogisticCalibration:
    return UNCALIBRATED


def judge_all(
    swings: Sequence[MeasuredSwing], calibration: Calibrations = _uncalibrated
) -> list[tuple[Finding, ...]]:
    """Of each swing one finding for every fault of the catalogue, in its order.

    Parameters
    ----------
    calibration
        The calibration of a fault in a view.
    """
    return judge(tuple(CATALOGUE.values()), swings, calibration)


def judge(
    definitions: tuple[FaultDefinition, ...],
    swings: Sequence[MeasuredSwing],
    calibration: Calibrations,
) -> list[tuple[Finding, ...]]:
    """Judge faults in swings, all of one view at once.

    The rule's score is the chance that the measure lies beyond its threshold when both
    the measure's own error and the grey zone of the threshold are taken as normal
    distributions; of several criteria, all of which must be met, the least met decides. It is
    above one half exactly when every value lies beyond its threshold. Calibration keeps the side.
    """
    told = dict[int, tuple[Finding, ...]]()
    for view in View:
        rows = [k for k, swing in enumerate(swings) if swing.view.value is view]
        if rows:
            criteria = criteria_of(definitions, view)
            found = _judge_alike(definitions, criteria, [swings[k] for k in rows], calibration)
            told.update(zip(rows, found, strict=True))
    return [told[k] for k in range(len(swings))]


def _judge_alike(
    definitions: tuple[FaultDefinition, ...],
    criteria: Criteria,
    swings: Sequence[MeasuredSwing],
    calibration: Calibrations,
) -> Iterator[tuple[Finding, ...]]:
    """Judge faults in swings of the view of which the criteria are."""
    names = [criterion.measure.name for criterion in criteria.each]
    measured = [[swing.values[name] for name in names] for swing in swings]
    weighed = weigh(criteria, measured)
    by = [calibration(fault, criteria.view) for fault in criteria.parts]
    chances = chances_by(by, weighed.scores)
    rows = (each.tolist() for each in (weighed.scores, chances, weighed.most))
    for swing, own, scores, chance, most in zip(swings, measured, *rows, strict=True):
        cases = {
            fault: _Case(criteria.each[part], own[part], most[part], *told)
            for (fault, part), *told in zip(criteria.parts.items(), scores, chance, strict=True)
        }
        hidden = not_shown(definitions, FilmingConditions.of(swing))
        yield tuple(
            _not_assessable(definition, why) if why else _found(definition, cases, swing)
            for definition, why in zip(definitions, hidden, strict=True)
        )


class _Case(NamedTuple):
    """What speaks for or against one fault in one swing.

    Of each criterion what was measured and the uncertainty that it may have at most; the score of
    all of them and the calibrated chance.
    """

    criteria: tuple[Criterion, ...]
    measured: list[MeasuredValue | Reason]
    most: list[float]
    score: float
    chance: float

    def values(self) -> list[MeasuredValue] | Reason:
        """What was measured of all, or why it can't be judged by."""
        values = []
        for each in self.measured:
            if isinstance(each, Reason):
                return each
            values.append(each)
        for criterion, value, most in zip(self.criteria, values, self.most, strict=True):
            if value.uncertainty > most:
                return _too_vague(criterion, value, most)
        return values


def _found(
    definition: FaultDefinition, cases: Mapping[str, _Case], swing: MeasuredSwing
) -> Finding:
    """What was found of a fault that the footage shows."""
    case = cases[definition.name]
    values = case.values()
    if isinstance(values, Reason):
        return _not_assessable(definition, values)
    leading, measured = case.criteria[0], values[0]
    too_few = _too_few_frames(definition, leading, swing)
    if too_few is not None:
        return _not_assessable(definition, too_few)
    status = _status(case.score, case.chance)
    is_present = status is Status.PRESENT
    return Finding(
        definition.name,
        definition.title,
        status,
        score=case.score,
        confidence=max(case.chance, 1.0 - case.chance),
        evidence=tuple(map(_evidence, case.criteria, values)),
        chance=case.chance,
        severity=measured.value if is_present else None,
        severity_unit=leading.measure.unit if is_present else None,
        grade=_grade(leading, measured.value) if is_present else None,
        shows_most=_most(definition, leading, measured, swing) if is_present else None,
        span=_span(leading, measured, swing) if is_present else None,
    )


@lru_cache(maxsize=512)
def _not_assessable(definition: FaultDefinition, why: Reason) -> Finding:
    """That a fault can't be judged; most clips of a camera share the reasons."""
    return Finding(definition.name, definition.title, Status.NOT_ASSESSABLE, reason=why)


def _status(score: float, chance: float) -> Status:
    """Uncertain where the score or what calibration makes of it is too near even."""
    if min(max(score, 1.0 - score), max(chance, 1.0 - chance)) < USEFUL_CONFIDENCE:
        return Status.UNCERTAIN
    return Status.PRESENT if chance > 0.5 else Status.ABSENT


def _too_vague(criterion: Criterion, measured: MeasuredValue, most: float) -> Reason:
    unit = criterion.measure.unit
    return Reason(
        "too_uncertain",
        f"{criterion.measure.title}: {_short(measured.value, 3)} ± "
        f"{_short(measured.uncertainty, 2)} {unit} is too uncertain to judge, as the fault begins "
        f"at {_short(criterion.threshold, 3)} {unit}; it takes less than ± {_short(most, 2)} "
        f"{unit}.",
    )


def _short(value: float, digits: int) -> str:
    """A value to some digits, without powers of ten.

    >>> _short(4.781, 3), _short(138.2, 2)
    ('4.78', '140')
    """
    short = f"{value:.{digits}g}"
    return np.format_float_positional(float(short), trim="-") if "e" in short else short


def _too_few_frames(
    definition: FaultDefinition, leading: Criterion, swing: MeasuredSwing
) -> Reason | None:
    measure = leading.measure
    if measure.start == measure.end:
        return None
    frames = swing.frames_within(measure.start, measure.end)
    if frames >= definition.min_frames:
        return None
    needed = definition.min_frames / max(frames, 1e-6)
    rate = needed / frame_interval(swing.times)
    return Reason(
        "frame_rate",
        f"{_too_few_in_words(frames)} between {measure.at.replace('-', ' and ')}; "
        f"film at {_usual_rate(rate)} frames a second or more.",
    )


def _too_few_in_words(frames: float) -> str:
    """A count of frames, which may be a mean over the window, as one would say it."""
    if frames < 0.75:
        return "Hardly a frame falls"
    count = max(round(frames), 1)
    return "Only one frame falls" if count == 1 else f"Only about {count} frames fall"


def _usual_rate(rate: float) -> int:
    return next((r for r in (60, 120, 240) if r >= rate), 480)


def _grade(criterion: Criterion, value: float) -> Grade:
    excess = criterion.excess(value)
    if excess >= criterion.excess(criterion.marked):
        return Grade.MARKED
    return Grade.MODERATE if excess >= criterion.excess(criterion.moderate) else Grade.MILD


def _evidence(criterion: Criterion, measured: MeasuredValue) -> Evidence:
    return Evidence(
        measure=criterion.measure.name,
        title=criterion.measure.title,
        unit=criterion.measure.unit,
        value=measured.value,
        uncertainty=measured.uncertainty,
        threshold=criterion.threshold,
        direction=criterion.direction.value,
        reference=criterion.reference,
        note=criterion.note,
        as_measured=measured.as_measured,
    )


def _excess_along(criterion: Criterion, measured: MeasuredValue) -> FloatArray:
    """How far the signal lies beyond the threshold over the measure's window."""
    return criterion.excess(measured.signal[criterion.measure.window])


def _most(
    definition: FaultDefinition, criterion: Criterion, measured: MeasuredValue, swing: MeasuredSwing
) -> Moment:
    """The moment at which it shows most."""
    if definition.shows_at is not None:
        return swing.moment(definition.shows_at)
    most = np.nanargmax(_excess_along(criterion, measured))
    return swing.moment(float(GRID[criterion.measure.window][most]))


def _span(
    criterion: Criterion, measured: MeasuredValue, swing: MeasuredSwing
) -> tuple[Moment, Moment]:
    """First and last moment of the window at which the measure is beyond its threshold."""
    inside = np.flatnonzero(_excess_along(criterion, measured) > 0.0)
    grid = GRID[criterion.measure.window]
    first, last = (inside[0], inside[-1]) if inside.size else (0, len(grid) - 1)
    return swing.moment(float(grid[first])), swing.moment(float(grid[last]))
