"""From measures to findings: what is present, what is absent, what can't be told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import hypot
from typing import Final

import numpy as np
from scipy.special import ndtr

from service.analysis.events.normalized import GRID
from service.analysis.events.orientation import LEAST_VIEW_CONFIDENCE
from service.analysis.faults import CATALOGUE, Criterion, FaultDefinition
from service.analysis.judging.calibration import ModelPrediction
from service.analysis.measured import MeasuredSwing
from service.analysis.measures.definition import MeasuredValue
from service.analysis.types import (
    Evidence,
    Finding,
    FloatArray,
    Grade,
    Intent,
    Moment,
    Reason,
    Status,
    View,
)

_DECISIVE: Final[float] = 0.9
"""Chance from which even a vague measure tells: it lies far enough beyond."""
USEFUL_CONFIDENCE: Final[float] = 0.6
"""Below this an answer would be little better than a coin flip: the finding is uncertain."""


Predict = Callable[[str], ModelPrediction | None]


def _no_prediction(_fault: str) -> ModelPrediction | None:
    return None


def judge_all(swing: MeasuredSwing, predict: Predict = _no_prediction) -> tuple[Finding, ...]:
    """One finding for every fault of the catalogue, in its order.

    Parameters
    ----------
    predict
        What the model says of a fault by its name; asked only of faults that can be judged.
    """
    return tuple(
        judge(
            definition, swing, predict(definition.name) if _assessable(definition, swing) else None
        )
        for definition in CATALOGUE.values()
    )


def judge(
    definition: FaultDefinition, swing: MeasuredSwing, prediction: ModelPrediction | None = None
) -> Finding:
    """Judge one fault.

    The rule's score is the chance that the measure lies beyond its threshold when both
    the measure's own error and the grey zone of the threshold are taken as normal
    distributions; of several criteria, all of which must be met, the least met decides.
    The model's prediction is told beside it and decides nothing: on swings of another make than
    those it was trained on, it was wrong more often than the rule.
    """
    criteria = definition.criteria.get(swing.view.value, ())
    obstacle = _obstacle(definition, criteria, swing)
    if obstacle is not None:
        return Finding(definition.name, definition.title, Status.NOT_ASSESSABLE, reason=obstacle)
    pairs = [(c, _measured(swing, c)) for c in criteria]
    score = min(_score(c, t) for c, t in pairs)
    finding = Finding(
        definition.name,
        definition.title,
        _status(score),
        score=score,
        confidence=max(score, 1.0 - score),
        evidence=tuple(_evidence(c, t) for c, t in pairs),
        chance=score,
        model_score=None if prediction is None else prediction.probability,
        agreement=None if prediction is None else prediction.agrees(score),
    )
    if prediction is not None and (finding.status is not Status.ABSENT or not finding.agreement):
        finding = replace(finding, moved_by=prediction.explain())
    if finding.status is not Status.PRESENT:
        return finding
    leading, measured = pairs[0]
    return replace(
        finding,
        severity=measured.value,
        severity_unit=leading.measure.unit,
        grade=_grade(leading, measured.value),
        shows_most=swing.moment(_position_of_most(definition, leading, measured)),
        span=_span(leading, measured, swing),
    )


def shows_most(definition: FaultDefinition, swing: MeasuredSwing) -> Moment | None:
    """Where a fault would show most, whether present or not; ``None`` if not assessable."""
    if not _assessable(definition, swing):
        return None
    criteria = definition.criteria[swing.view.value]
    return swing.moment(_position_of_most(definition, criteria[0], _measured(swing, criteria[0])))


def _assessable(definition: FaultDefinition, swing: MeasuredSwing) -> bool:
    criteria = definition.criteria.get(swing.view.value, ())
    return _obstacle(definition, criteria, swing) is None


def _status(chance: float) -> Status:
    if max(chance, 1.0 - chance) < USEFUL_CONFIDENCE:
        return Status.UNCERTAIN
    return Status.PRESENT if chance > 0.5 else Status.ABSENT


def _obstacle(
    definition: FaultDefinition, criteria: Sequence[Criterion], swing: MeasuredSwing
) -> Reason | None:
    if definition.full_speed_only and swing.intent is Intent.REHEARSAL:
        return Reason("rehearsal", "A slow rehearsal can't show this; film it at full speed.")
    if not criteria:
        views = " or ".join(_in_words(v) for v in definition.views)
        return Reason(
            "view", f"This can only be seen {views}; the clip is {_in_words(swing.view.value)}."
        )
    if len(definition.views) == 1 and swing.view.confidence < LEAST_VIEW_CONFIDENCE:
        return Reason(
            "view_unsure",
            "It is not clear from where the clip was filmed; give the view with the request.",
        )
    for criterion in criteria:
        measured = swing.values[criterion.measure.name]
        if isinstance(measured, Reason):
            return measured
        score = _score(criterion, measured)
        vague = measured.uncertainty > criterion.excess(criterion.marked)
        if vague and 1.0 - _DECISIVE < score < _DECISIVE:
            return Reason(
                "too_uncertain",
                f"{criterion.measure.title}: {measured.value:.3g} ± {measured.uncertainty:.2g} "
                f"{criterion.measure.unit} is too uncertain to judge.",
            )
    return _too_few_frames(definition, criteria[0], swing)


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
    rate = needed / float(np.median(np.diff(swing.times)))
    return Reason(
        "frame_rate",
        f"Only {frames:.1f} frames fall between {measure.at.replace('-', ' and ')}; "
        f"film at {_usual_rate(rate)} frames a second or more.",
    )


def _usual_rate(rate: float) -> int:
    return next((r for r in (60, 120, 240) if r >= rate), 480)


def _measured(swing: MeasuredSwing, criterion: Criterion) -> MeasuredValue:
    measured = swing.values[criterion.measure.name]
    assert isinstance(measured, MeasuredValue)
    return measured


def _score(criterion: Criterion, measured: MeasuredValue) -> float:
    excess = criterion.excess(measured.value)
    return float(ndtr(excess / hypot(measured.uncertainty, criterion.grey)))


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
    )


def _excess_along(criterion: Criterion, measured: MeasuredValue) -> FloatArray:
    """How far the signal lies beyond the threshold over the measure's window."""
    return criterion.excess(measured.signal[criterion.measure.window])


def _position_of_most(
    definition: FaultDefinition, criterion: Criterion, measured: MeasuredValue
) -> float:
    if definition.shows_at is not None:
        return definition.shows_at
    return float(GRID[criterion.measure.window][np.nanargmax(_excess_along(criterion, measured))])


def _span(
    criterion: Criterion, measured: MeasuredValue, swing: MeasuredSwing
) -> tuple[Moment, Moment]:
    """First and last moment of the window at which the measure is beyond its threshold."""
    inside = np.flatnonzero(_excess_along(criterion, measured) > 0.0)
    grid = GRID[criterion.measure.window]
    first, last = (inside[0], inside[-1]) if inside.size else (0, len(grid) - 1)
    return swing.moment(float(grid[first])), swing.moment(float(grid[last]))


def _in_words(view: View) -> str:
    return view.value.replace("_", " ")
