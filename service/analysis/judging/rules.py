"""From measures to findings: what is present, what is absent, what can't be told."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import erf, hypot, sqrt
from typing import Final

import numpy as np

from service.analysis.events.normalized import GRID, NormalizedSwing, grid_index
from service.analysis.events.orientation import LEAST_VIEW_CONFIDENCE
from service.analysis.faults import CATALOGUE, Criterion, Direction, FaultDefinition
from service.analysis.judging.calibration import ModelPrediction
from service.analysis.measures.general import MeasuredValue
from service.analysis.types import (
    Evidence,
    Finding,
    FloatArray,
    Grade,
    Intent,
    Judged,
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


def _no_opinion(_fault: str) -> ModelPrediction | None:
    return None


@dataclass(frozen=True)
class Court:
    """What judging a fault needs besides its definition."""

    swing: NormalizedSwing
    taken: Mapping[str, MeasuredValue | Reason]
    frame_times: FloatArray
    view: Judged[View]
    intent: Intent

    def frames_within(self, first: float, last: float) -> float:
        """How many frames of the footage lie between two position coordinates."""
        start, end = (self.swing.times[0, grid_index(p)] for p in (first, last))
        frames = np.interp([start, end], self.frame_times, np.arange(len(self.frame_times)))
        return float(frames[1] - frames[0])

    def moment(self, position: float) -> Moment:
        """The frame nearest to a position coordinate."""
        time = float(self.swing.times[0, grid_index(position)])
        frame = int(np.argmin(np.abs(self.frame_times - time)))
        return Moment(frame, float(self.frame_times[frame]), position)


def judge_all(court: Court, predict: Predict = _no_opinion) -> tuple[Finding, ...]:
    """One finding for every fault of the catalogue, in its order.

    Parameters
    ----------
    predict
        What the model says of a fault by its name; asked only of faults that can be judged.
    """
    return tuple(
        judge(
            definition, court, predict(definition.name) if _assessable(definition, court) else None
        )
        for definition in CATALOGUE
    )


def judge(
    definition: FaultDefinition, court: Court, opinion: ModelPrediction | None = None
) -> Finding:
    """Judge one fault.

    The rule's score is the chance that the measure lies beyond its threshold when both
    the measure's own error and the grey zone of the threshold are taken as normal
    distributions; of several criteria, all of which must be met, the least met decides.
    The model's opinion is told beside it and decides nothing: on swings of another make than
    those it was trained on, it was wrong more often than the rule.
    """
    criteria = definition.criteria.get(court.view.value, ())
    obstacle = _obstacle(definition, criteria, court)
    if obstacle is not None:
        return Finding(definition.name, definition.title, Status.NOT_ASSESSABLE, reason=obstacle)
    pairs = [(c, _taken(court, c)) for c in criteria]
    score = min(_score(c, t) for c, t in pairs)
    finding = Finding(
        definition.name,
        definition.title,
        _status(score),
        score=score,
        confidence=max(score, 1.0 - score),
        evidence=tuple(_evidence(c, t) for c, t in pairs),
        chance=score,
        model_score=None if opinion is None else opinion.probability,
        agreement=None if opinion is None else opinion.agrees(score),
    )
    if opinion is not None and (finding.status is not Status.ABSENT or not finding.agreement):
        finding = replace(finding, moved_by=opinion.explain())
    if finding.status is not Status.PRESENT:
        return finding
    leading, taken = pairs[0]
    return replace(
        finding,
        severity=taken.value,
        severity_unit=leading.measure.unit,
        grade=_grade(leading, taken.value),
        shows_most=court.moment(_position_of_most(definition, leading, taken)),
        span=_span(leading, taken, court),
    )


def shows_most(definition: FaultDefinition, court: Court) -> Moment | None:
    """Where a fault would show most, whether present or not; ``None`` if not assessable."""
    if not _assessable(definition, court):
        return None
    criteria = definition.criteria[court.view.value]
    return court.moment(_position_of_most(definition, criteria[0], _taken(court, criteria[0])))


def _assessable(definition: FaultDefinition, court: Court) -> bool:
    criteria = definition.criteria.get(court.view.value, ())
    return _obstacle(definition, criteria, court) is None


def _status(chance: float) -> Status:
    if max(chance, 1.0 - chance) < USEFUL_CONFIDENCE:
        return Status.UNCERTAIN
    return Status.PRESENT if chance > 0.5 else Status.ABSENT


def _obstacle(
    definition: FaultDefinition, criteria: Sequence[Criterion], court: Court
) -> Reason | None:
    if definition.full_speed_only and court.intent is Intent.REHEARSAL:
        return Reason("rehearsal", "A slow rehearsal can't show this; film it at full speed.")
    if not criteria:
        views = " or ".join(_in_words(v) for v in definition.views)
        return Reason(
            "view", f"This can only be seen {views}; the clip is {_in_words(court.view.value)}."
        )
    if len(definition.views) == 1 and court.view.confidence < LEAST_VIEW_CONFIDENCE:
        return Reason(
            "view_unsure",
            "It is not clear from where the clip was filmed; give the view with the request.",
        )
    for criterion in criteria:
        taken = court.taken[criterion.measure.name]
        if isinstance(taken, Reason):
            return taken
        score = _score(criterion, taken)
        vague = taken.uncertainty > abs(criterion.marked - criterion.threshold)
        if vague and 1.0 - _DECISIVE < score < _DECISIVE:
            return Reason(
                "too_uncertain",
                f"{criterion.measure.title}: {taken.value:.3g} ± {taken.uncertainty:.2g} "
                f"{criterion.measure.unit} is too uncertain to judge.",
            )
    return _too_few_frames(definition, criteria[0], court)


def _too_few_frames(definition: FaultDefinition, leading: Criterion, court: Court) -> Reason | None:
    measure = leading.measure
    if measure.start == measure.end:
        return None
    frames = court.frames_within(measure.start, measure.end)
    if frames >= definition.min_frames:
        return None
    needed = definition.min_frames / max(frames, 1e-6)
    rate = needed / float(np.median(np.diff(court.frame_times)))
    return Reason(
        "frame_rate",
        f"Only {frames:.1f} frames fall between {measure.at.replace('-', ' and ')}; "
        f"film at {_usual_rate(rate)} frames a second or more.",
    )


def _usual_rate(rate: float) -> int:
    return next((r for r in (60, 120, 240) if r >= rate), 480)


def _taken(court: Court, criterion: Criterion) -> MeasuredValue:
    taken = court.taken[criterion.measure.name]
    assert isinstance(taken, MeasuredValue)
    return taken


def _score(criterion: Criterion, taken: MeasuredValue) -> float:
    beyond = taken.value - criterion.threshold
    if criterion.direction is Direction.BELOW:
        beyond = -beyond
    return 0.5 * (1.0 + erf(beyond / (hypot(taken.uncertainty, criterion.grey) * sqrt(2.0))))


def _grade(criterion: Criterion, value: float) -> Grade:
    sign = 1.0 if criterion.direction is Direction.ABOVE else -1.0
    if sign * value >= sign * criterion.marked:
        return Grade.MARKED
    return Grade.MODERATE if sign * value >= sign * criterion.moderate else Grade.MILD


def _evidence(criterion: Criterion, taken: MeasuredValue) -> Evidence:
    return Evidence(
        measure=criterion.measure.name,
        title=criterion.measure.title,
        unit=criterion.measure.unit,
        value=taken.value,
        uncertainty=taken.uncertainty,
        threshold=criterion.threshold,
        direction=criterion.direction.value,
        reference=criterion.reference,
        note=criterion.note,
    )


def _beyond(criterion: Criterion, taken: MeasuredValue) -> FloatArray:
    """How far the signal lies beyond the threshold over the measure's window."""
    beyond = taken.signal[criterion.measure.window] - criterion.threshold
    return -beyond if criterion.direction is Direction.BELOW else beyond


def _position_of_most(
    definition: FaultDefinition, criterion: Criterion, taken: MeasuredValue
) -> float:
    if definition.shows_at is not None:
        return definition.shows_at
    return float(GRID[criterion.measure.window][np.nanargmax(_beyond(criterion, taken))])


def _span(criterion: Criterion, taken: MeasuredValue, court: Court) -> tuple[Moment, Moment]:
    """First and last moment of the window at which the measure is beyond its threshold."""
    inside = np.flatnonzero(_beyond(criterion, taken) > 0.0)
    grid = GRID[criterion.measure.window]
    first, last = (inside[0], inside[-1]) if inside.size else (0, len(grid) - 1)
    return court.moment(float(grid[first])), court.moment(float(grid[last]))


def _in_words(view: View) -> str:
    return view.value.replace("_", " ")
