"""Answers about change: comparisons, what holds at full speed, progress."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, Field

from service.analysis.types import Status, View
from service.api.names import FaultName, MeasureName, UnitName
from service.api.schemas.analysis import ReasonAnswer, RemarkAnswer
from service.api.schemas.values import Answer, Confidence, Coordinate, Frame, Number, Seconds
from service.lessons import Outcome, Part, Progress, Trend, Verdict
from service.use_cases.compare import ComparedSwings


def _day(value: object) -> object:
    return value.date() if isinstance(value, datetime) else value


Day = Annotated[date, BeforeValidator(_day)]


class EstimateAnswer(Answer):
    """A value over one or several swings."""

    value: Number
    uncertainty: Number = Field(description="One standard deviation, in the measure's unit.")
    count: int = Field(description="Swings it rests on.")


class MeasureChangeAnswer(Answer):
    """One measure before and after."""

    name: MeasureName
    title: str
    unit: UnitName
    at: str
    verdict: Verdict
    fault: FaultName | None = Field(description="The fault the measure speaks for, if any.")
    before: EstimateAnswer | None
    after: EstimateAnswer | None
    change: Number | None = Field(description="After minus before.")
    smallest_detectable: Number | None = Field(description="The size from which a change counts.")
    reason: ReasonAnswer | None


class SettledAnswer(Answer):
    """What several swings together say about one fault."""

    status: Status
    confidence: Confidence | None
    present: int = Field(description="Swings in which it is present.")
    assessed: int = Field(description="Swings in which it could be judged.")
    by_coach: bool = Field(
        description="Whether a coach decided; then `present` and `assessed` count reviews, and "
        "there is no confidence."
    )
    reason: ReasonAnswer | None


class FaultChangeAnswer(Answer):
    """One fault before and after."""

    fault: FaultName
    title: str
    verdict: Verdict
    before: SettledAnswer
    after: SettledAnswer
    reason: ReasonAnswer | None


class TransferAnswer(Answer):
    """Whether what changed in the rehearsal holds at full speed."""

    fault: FaultName
    title: str
    outcome: Outcome
    kept: Number | None = Field(description="Share of the rehearsal's change kept: 1 is all.")
    reason: ReasonAnswer | None


class AlignedSwing(BaseModel):
    """The frames of one swing at the positions that every swing shows."""

    swing_id: str
    frames: list[Frame]
    times_s: list[Seconds]


class AlignmentAnswer(BaseModel):
    """Where the swings show the same positions."""

    positions: list[Coordinate]
    swings: list[AlignedSwing]


class ComparisonAnswer(BaseModel):
    """What became of a player's swing."""

    view: View
    faults: list[FaultChangeAnswer]
    measures: list[MeasureChangeAnswer]
    rehearsal: list[TransferAnswer] | None = Field(
        description="Null when no rehearsals were given."
    )
    alignment: AlignmentAnswer
    remarks: list[RemarkAnswer] = Field(
        description="What else than the swing differs, such as the kind of club."
    )


class MeasurePointAnswer(Answer):
    """A measure in one lesson."""

    date: Day
    estimate: EstimateAnswer
    part: Part | None = Field(description="Before or after the lesson's work; null when not split.")


class MeasureProgressAnswer(Answer):
    """A measure over the lessons, oldest first."""

    name: MeasureName
    title: str
    unit: UnitName
    view: View
    points: list[MeasurePointAnswer]


class FaultPointAnswer(Answer):
    """A fault in one lesson."""

    date: Day
    settled: SettledAnswer
    part: Part | None = Field(description="Before or after the lesson's work; null when not split.")


class FaultProgressAnswer(Answer):
    """A fault over the lessons, oldest first."""

    fault: FaultName
    title: str
    trend: Trend | None = Field(
        description="What the last lesson says that could judge it; null when none could. `new` is "
        "found for the first time, be it that earlier lessons could not judge it."
    )
    last_told: bool = Field(
        description="Whether the last lesson of all could judge it; otherwise the trend is what "
        "was known before."
    )
    since: Day | None = Field(description="The lesson in which the present status began.")
    points: list[FaultPointAnswer]


class ProgressAnswer(Answer):
    """Everything followed over a player's lessons, full-speed swings only."""

    faults: list[FaultProgressAnswer]
    measures: list[MeasureProgressAnswer]


def to_comparison(compared: ComparedSwings) -> ComparisonAnswer:
    """The answer to a comparison."""
    aligned = compared.alignment
    return ComparisonAnswer(
        view=compared.comparison.view,
        faults=[FaultChangeAnswer.model_validate(f) for f in compared.comparison.faults],
        measures=[MeasureChangeAnswer.model_validate(m) for m in compared.comparison.measures],
        rehearsal=None
        if compared.transfers is None
        else [TransferAnswer.model_validate(t) for t in compared.transfers],
        remarks=[RemarkAnswer.model_validate(r) for r in compared.comparison.remarks],
        alignment=AlignmentAnswer(
            positions=aligned.positions.tolist(),
            swings=[
                AlignedSwing(swing_id=swing_id, frames=frames.tolist(), times_s=times.tolist())
                for swing_id, frames, times in zip(
                    compared.swing_ids, aligned.frames, aligned.times, strict=True
                )
            ],
        ),
    )


def to_progress(progress: Progress) -> ProgressAnswer:
    """The answer about a player's progress."""
    return ProgressAnswer.model_validate(progress)
