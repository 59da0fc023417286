"""The recap of a lesson as a typed answer."""

from __future__ import annotations

from datetime import date

from pydantic import BaseModel, Field

from service.analysis.types import Club, Intent, View
from service.api.names import FaultName
from service.api.schemas.analysis import FindingAnswer, ReasonAnswer, RemarkAnswer, StoppedAtAnswer
from service.api.schemas.coach.recap import (
    CoachViewAnswer,
    OwnKeyAnswer,
    StandingAnswer,
    to_own_keys,
    to_standing,
)
from service.api.schemas.comparison import (
    FaultChangeAnswer,
    FaultProgressAnswer,
    MeasureProgressAnswer,
    TransferAnswer,
)
from service.api.schemas.values import Answer, Coordinate
from service.report.recap import Pictured, Recap


class RecapSwingAnswer(Answer):
    """One swing of the lesson."""

    id: str
    role: str
    view: View | None = Field(description="Null where no swing was found in the clip.")
    intent: Intent
    club: Club | None
    stopped_at: StoppedAtAnswer | None = Field(
        description="Where the backswing ended, beside where it was asked to stop; null where it "
        "was not asked."
    )


class CompensationAnswer(Answer):
    """A fault that others tend to bring."""

    finding: FindingAnswer
    brought_by: list[str]


class ChapterAnswer(Answer):
    """A cause, and under it the compensations that it explains."""

    cause: FindingAnswer
    compensations: list[CompensationAnswer]


class VideoCheckAnswer(Answer):
    """How to see on video whether it is gone."""

    views: list[View]
    at: str
    position: Coordinate
    text: str
    numbers: str = Field(description="The same in values against thresholds; may be empty.")


class PriorityAnswer(Answer):
    """What to work on, and why it comes first."""

    finding: FindingAnswer
    why: str
    effect: str = Field(description="What it does to the swing, and what may ease with it.")
    dose: str = Field(description="How often and how fast to do what `work_on` asks for.")
    description: str
    behind: str = Field(description="Why it often happens, without what was seen to be absent.")
    work_on: str
    check: VideoCheckAnswer
    unseen_causes: list[str]
    cautions: list[str]
    reworded: list[str] = Field(description="Fields that the coach put in other words.")


class KeepAnswer(Answer):
    """What the player does well."""

    fault: FaultName = Field(description="The fault that is clearly absent.")
    text: str


class UnseenAnswer(Answer):
    """What could not be judged."""

    fault: FaultName
    title: str
    reason: ReasonAnswer


class StoryAnswer(Answer):
    """What the findings mean together."""

    chapters: list[ChapterAnswer]
    priorities: list[PriorityAnswer]
    keep: list[KeepAnswer]
    unseen: list[UnseenAnswer]
    hidden: list[FaultName] = Field(description="Found, but by the coach not to be keys.")


class ViewComparisonAnswer(Answer):
    """What changed, seen from one view."""

    view: View
    faults: list[FaultChangeAnswer]


class ViewTransferAnswer(BaseModel):
    """What became at full speed of a change made in the rehearsal, seen from one view."""

    view: View
    transfer: TransferAnswer


class PictureAnswer(BaseModel):
    """A position worth showing, with the paths of its pictures."""

    fault: str
    title: str
    view: View
    position: Coordinate
    before: str | None = Field(description="Null where there is no swing to hold it against.")
    after: str


class ChartAnswer(Answer):
    """A fault over the lessons, with the measure it is judged by first."""

    fault: FaultProgressAnswer
    measure: MeasureProgressAnswer


class RecapAnswer(BaseModel):
    """What the coach sends after the lesson."""

    player: str
    date: date
    title: str | None
    coach_note: str | None
    standing: StandingAnswer
    swings: list[RecapSwingAnswer]
    story: StoryAnswer
    without_keys: str | None = Field(
        description="What to say in the place of keys; null where there are some."
    )
    judged: int = Field(
        description="How many faults of the catalogue could be judged: in the swings after the "
        "work, or in all at full speed where none is marked so."
    )
    own_keys: list[OwnKeyAnswer] = Field(
        description="Keys of the coach's own, to be told in their places among the priorities."
    )
    coach_views: list[CoachViewAnswer] = Field(
        description="What the coach says of faults beside what the service found."
    )
    compared: str | None = Field(description="What was held against what, in words.")
    news: list[str] = Field(
        description="What changed, what held, what only some swings show and what can't be told "
        "now, a sentence a kind."
    )
    comparisons: list[ViewComparisonAnswer]
    rehearsal: list[ViewTransferAnswer]
    pictures: list[PictureAnswer]
    charts: list[ChartAnswer]
    film_next: list[str] = Field(description="What to film next time, most needed first.")
    uncertain: list[FindingAnswer] = Field(description="Findings too close to call.")
    remarks: list[RemarkAnswer]
    cautions: list[str]
    made_by: list[str]


def to_recap(recap: Recap, lesson_id: str) -> RecapAnswer:
    """The answer to a request for a recap."""
    return RecapAnswer(
        player=recap.about.player,
        date=recap.about.date,
        title=recap.about.title,
        coach_note=recap.about.coach_note,
        standing=to_standing(recap.standing),
        swings=[
            RecapSwingAnswer(
                id=swing_id,
                role=recap.roles[swing_id],
                view=swing.view.value if swing.view else None,
                intent=swing.intent,
                club=swing.club,
                stopped_at=StoppedAtAnswer.model_validate(swing.stopped_at)
                if swing.stopped_at
                else None,
            )
            for swing_id, swing in recap.swings.items()
        ],
        story=StoryAnswer.model_validate(recap.story),
        without_keys=None if recap.story.keys else recap.without_keys,
        judged=recap.judged,
        own_keys=to_own_keys(recap, lesson_id),
        coach_views=[CoachViewAnswer.model_validate(view) for view in recap.coach_views],
        compared=recap.changes.compared,
        news=[f"{kind}: {faults}." for kind, faults in recap.news],
        comparisons=[ViewComparisonAnswer.model_validate(c) for c in recap.changes.comparisons],
        rehearsal=[
            ViewTransferAnswer(view=view, transfer=TransferAnswer.model_validate(transfer))
            for view, transfer in recap.changes.transfers
        ],
        pictures=[_picture(p) for p in recap.drawn.pictures],
        charts=[ChartAnswer.model_validate(c) for c in recap.drawn.charts],
        film_next=list(recap.film_next),
        uncertain=[FindingAnswer.model_validate(f) for f in recap.uncertain],
        remarks=[RemarkAnswer.model_validate(r) for r in recap.remarks],
        cautions=list(recap.cautions),
        made_by=list(recap.about.made_by),
    )


def frame_path(swing_id: str, position: float, fault: str) -> str:
    """Where the picture of a fault at one position of a kept swing is served."""
    return f"/v1/swings/{swing_id}/frames/{position:g}.svg?fault={fault}"


def _picture(pictured: Pictured) -> PictureAnswer:
    before = pictured.before
    return PictureAnswer(
        fault=pictured.fault,
        title=pictured.title,
        view=pictured.view,
        position=pictured.position,
        before=frame_path(before, pictured.position, pictured.fault) if before else None,
        after=frame_path(pictured.after, pictured.position, pictured.fault),
    )
