"""The answer to an analysis: the domain's dataclasses as a typed, rounded contract."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, model_validator

import service
from service.analysis.faults import Direction
from service.analysis.types import (
    Club,
    CoachVerdict,
    FloatArray,
    Grade,
    Handedness,
    Intent,
    Level,
    Reason,
    Source,
    Status,
    SwingAnalysis,
    View,
)
from service.api.names import (
    FaultName,
    MeasureName,
    PositionName,
    ReasonCode,
    RemarkCode,
    UnitName,
)
from service.api.schemas.values import (
    COORDINATE_DIGITS,
    TIME_DIGITS,
    Answer,
    Confidence,
    Coordinate,
    Finite,
    Frame,
    Number,
    OnScale,
    Seconds,
    Share,
    all_rounded,
)
from service.lessons.words.filming import film_for
from service.lessons.words.wording import PLACES


class ReasonAnswer(Answer):
    """Why something could not be told."""

    code: ReasonCode = Field(description="Stable; for programs.")
    text: str = Field(description="For people.")
    fix: str | None = Field(
        description="What to film or send so that it falls away; null where nothing is known."
    )

    @model_validator(mode="before")
    @classmethod
    def _with_fix(cls, reason: Any) -> Any:
        if not isinstance(reason, Reason):
            return reason
        return {"code": reason.code, "text": reason.text, "fix": film_for(reason)}


class JudgedView(Answer):
    """The camera view, given or inferred."""

    value: View
    confidence: Confidence
    given: bool = Field(description="Whether it came with the request.")


class JudgedHandedness(Answer):
    """The player's handedness, given or inferred."""

    value: Handedness
    confidence: Confidence
    given: bool = Field(description="Whether it came with the request.")


class RemarkAnswer(Answer):
    """One thing about the footage."""

    code: RemarkCode
    level: Level
    text: str
    fix: str = Field(description="What the person filming should change.")


class QualityAnswer(Answer):
    """How far the footage allows a swing to be judged."""

    frame_rate: Number = Field(description="Frames a second of the player's time.")
    joints_seen: dict[str, Share] = Field(description="Share of frames in which each was seen.")
    remarks: list[RemarkAnswer]


class SwingSpanAnswer(Answer):
    """A swing in the clip, from the start of the takeaway to the finish."""

    first_frame: int
    last_frame: int
    start_s: Seconds = Field(validation_alias="start")
    end_s: Seconds = Field(validation_alias="end")
    analysed: bool = Field(description="True for the one swing that the answer is about.")


def _none_where_zero(value: float | None) -> float | None:
    """What was not found has no confidence; what was found always has some."""
    return value or None


def _place(number: object) -> object:
    """The words for a position by its number; an answer that is read again has them already."""
    return PLACES[number] if isinstance(number, int) else number


class PositionAnswer(Answer):
    """One of P1 to P10."""

    name: PositionName
    title: Annotated[str, BeforeValidator(_place)] = Field(
        validation_alias="number", description="What it is, in words for a player."
    )
    source: Source
    time_s: Seconds | None = Field(
        validation_alias="time", description="Null exactly when the position was not found."
    )
    frame: Frame | None = Field(description="Fractional where it lies between two frames.")
    uncertainty_s: Seconds | None = Field(
        validation_alias="uncertainty", description="One standard deviation."
    )
    confidence: Annotated[Confidence | None, BeforeValidator(_none_where_zero)] = Field(
        description="Chance that it lies within a frame of ordinary video, 33 ms; null where it "
        "was not found."
    )
    reason: ReasonAnswer | None = Field(
        description="Why it was not found, or is too unsure to count as observed."
    )


_AS_MEASURED = (
    "What was measured in the picture, where `value` is what the trained estimators make of it; "
    "else null."
)


class MeasureAnswer(Answer):
    """A measure at a position or between two."""

    name: MeasureName
    title: str
    unit: UnitName
    at: str = Field(description="`P4`, or `P5-P7` for a window.")
    value: Number | None = Field(description="Null exactly when `reason` is given.")
    uncertainty: Number | None = Field(description="One standard deviation, in `unit`.")
    as_measured: Number | None = Field(description=_AS_MEASURED)
    reason: ReasonAnswer | None


class MomentAnswer(Answer):
    """A frame of the clip."""

    frame: int
    time_s: Seconds = Field(validation_alias="time")
    position: Coordinate = Field(description="4.5 is halfway from P4 to P5.")


class SpanAnswer(Answer):
    """From one frame to another."""

    start: MomentAnswer
    end: MomentAnswer


def _ends(span: object) -> object:
    """Name the ends of a pair of moments."""
    return {"start": span[0], "end": span[1]} if isinstance(span, tuple) else span


class EvidenceAnswer(Answer):
    """A measured value against its threshold."""

    measure: MeasureName
    title: str
    unit: UnitName
    value: Number
    uncertainty: Number = Field(description="One standard deviation, in `unit`.")
    threshold: Number
    direction: Direction = Field(description="The side of the threshold that speaks for it.")
    reference: str = Field(description="Where the threshold comes from.")
    note: str | None
    as_measured: Number | None = Field(description=_AS_MEASURED)


class ReviewAnswer(Answer):
    """A coach's word on a fault in a swing."""

    verdict: CoachVerdict = Field(
        description="`confirm`: the fault is there, `reject`: it is not, `unsure`: the coach "
        "can't tell; whatever the service found."
    )
    grade: Grade | None = Field(description="The coach's own, of a fault that is confirmed.")
    note: str | None
    reviewer: str
    created: datetime
    analysis: int = Field(description="Number of the analysis that the coach looked at.")
    version: int = Field(description="Counts the reviews of the fault in the swing.")


class FindingAnswer(Answer):
    """What was found about one fault."""

    fault: FaultName = Field(description="Its name in `/v1/faults`.")
    title: str
    status: Status
    score: Share | None = Field(
        description="What the rule says: 0 is clearly absent, 1 clearly present."
    )
    confidence: Confidence | None = Field(
        description="Confidence in `status`; of an uncertain finding, in the likelier side."
    )
    chance: Confidence | None = Field(
        description="Calibrated chance that the fault is present; never 0 or 1."
    )
    severity: Number | None = Field(description="How far it goes, in `severity_unit`.")
    severity_unit: UnitName | None
    grade: Grade | None = Field(description="Of a fault that is present.")
    shows_most: MomentAnswer | None
    span: Annotated[SpanAnswer | None, BeforeValidator(_ends)] = Field(
        description="Where it shows."
    )
    evidence: list[EvidenceAnswer]
    reason: ReasonAnswer | None = Field(description="Why it can't be assessed.")
    review: ReviewAnswer | None = Field(
        description="A coach's word on it, where there is one. In an analysis the rest is what "
        "the service found all the same; a recap tells what the coach says."
    )


class ModelAnswer(Answer):
    """The trained estimators that the rules went by."""

    version: str = Field(description="`rules` where rules judged what was measured.")
    trained: str | None = Field(default=None, description="The day it was trained.")
    data: str | None = Field(default=None, description="Version of the data it was trained on.")


BY_RULES = ModelAnswer(version="rules")


class FamiliarityAnswer(Answer):
    """How like the clips that the trained estimators were made from this swing is."""

    outside: Share = Field(
        description="Share of what they look at that lies outside its usual range there."
    )
    inside: bool = Field(
        description="Whether they are used. If not, the rules judge what was measured, with wider "
        "error."
    )


class StoppedAtAnswer(Answer):
    """Where the backswing ended, on the scale of `stop_at` in the request."""

    asked: Coordinate
    value: Coordinate | None = Field(
        description="By the elevation of the lead arm at the top of the swing; null exactly when "
        "`reason` is given."
    )
    uncertainty: Number | None = Field(description="One standard deviation, in positions.")
    frame: int | None = Field(description="The frame nearest to the top of the swing.")
    time_s: Seconds | None = Field(validation_alias="time")
    reason: ReasonAnswer | None = Field(description="Why it can't be told.")


class SwingAnswer(Answer):
    """Everything the service says about one clip.

    Times are seconds of the player's own time from the first frame, slow-motion playback
    undone; frames are zero-based.
    """

    service_version: str
    model: ModelAnswer
    client_reference: str | None
    swing_found: bool
    reason: ReasonAnswer | None = Field(description="Why no swing was found.")
    intent: Intent
    club: Club | None
    view: JudgedView | None
    handedness: JudgedHandedness | None
    quality: QualityAnswer
    familiarity: FamiliarityAnswer | None = Field(
        description="Null without a swing or without trained estimators."
    )
    stopped_at: StoppedAtAnswer | None = Field(
        description="Null where the request did not ask for a stop."
    )
    swings: list[SwingSpanAnswer]
    positions: list[PositionAnswer]
    measures: list[MeasureAnswer]
    findings: list[FindingAnswer]
    # Of every frame: rounded as they are put in, which is several times as fast as one by one.
    times_s: list[Annotated[float, Finite]] = Field(description="Time of every frame.")
    position_coordinate: list[OnScale | None] = Field(
        description="Where in the swing every frame is, from 1 (P1) to 10 (P10); null outside "
        "the analysed swing."
    )


def to_answer(analysis: SwingAnalysis, client_reference: str | None) -> SwingAnswer:
    """The answer about one clip that was analysed just now."""
    fields = fields_of_answer(analysis, client_reference, service.__version__)
    return SwingAnswer.model_validate(fields)


def fields_of_answer(
    analysis: SwingAnalysis, client_reference: str | None, made_by: str
) -> dict[str, Any]:
    """What the fields of a :class:`SwingAnswer` are made from; ``made_by`` is the version of the
    service that analysed the clip."""
    return {
        "service_version": made_by,
        "model": analysis.model or BY_RULES,
        "client_reference": client_reference,
        "swing_found": analysis.swing_found,
        "reason": analysis.reason,
        "intent": analysis.intent,
        "club": analysis.club,
        "view": analysis.view,
        "handedness": analysis.handedness,
        "quality": analysis.quality,
        "familiarity": analysis.familiarity,
        "stopped_at": analysis.stopped_at,
        "swings": analysis.swings,
        "positions": analysis.positions,
        "measures": analysis.measures,
        "findings": analysis.findings,
        "times_s": all_rounded(analysis.times, TIME_DIGITS),
        "position_coordinate": _coordinates(analysis.coordinate, len(analysis.times)),
    }


def _coordinates(coordinate: FloatArray, n_frames: int) -> list[float | None]:
    """One entry a frame, ``None`` outside the analysed swing."""
    if coordinate.size == 0:
        return [None] * n_frames
    rounded = all_rounded(coordinate, COORDINATE_DIGITS)
    return [None if math.isnan(value) else value for value in rounded]
