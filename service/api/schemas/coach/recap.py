"""What a recap tells of its coach: own keys, views beside the service's, approval."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Final

from fastapi import Depends
from pydantic import Field, StringConstraints

from service.analysis.types import Grade, Status, View
from service.api.http.dependencies import SmallBody
from service.api.names import FaultName
from service.api.schemas.analysis import ReasonAnswer
from service.api.schemas.coach.fields import REVIEWER_FIX, Body, Reviewer, read
from service.api.schemas.coach.shapes import ShapeAnswer
from service.api.schemas.values import Answer
from service.lessons.coach.approval import ApprovalStatus
from service.report.recap import Recap

_FINGERPRINT: Final[str] = r"^[0-9a-f]{32}$"
_FIXES: Final[dict[str, str]] = {
    "reviewer": REVIEWER_FIX,
    "fingerprint": "Send standing.fingerprint of the recap that you read.",
}


class ApprovalBody(Body):
    """The approval of a recap as it was read."""

    reviewer: Reviewer = Field(description="Name or id of whoever approves it.")
    fingerprint: Annotated[str, StringConstraints(pattern=_FINGERPRINT)] = Field(
        description="`standing.fingerprint` of the recap that you read: what tells something else "
        "by now is not approved, and 412 is answered."
    )


def _approval(body: SmallBody) -> ApprovalBody:
    return read(ApprovalBody, body.text(), _FIXES)


SentApproval = Annotated[ApprovalBody, Depends(_approval)]


class ApprovalAnswer(Answer):
    """Who approved a recap or took the approval back, and when."""

    reviewer: str
    created: datetime
    withdrawn: bool


class StandingAnswer(Answer):
    """Whether a recap is a draft."""

    draft: bool = Field(description="Until a coach approves it, and again once it tells otherwise.")
    why: list[ReasonAnswer] = Field(description="Why it is a draft; empty where it is none.")
    approval: ApprovalAnswer | None = Field(description="The last one, be it still good or not.")
    fingerprint: str = Field(description="Of what it tells now; send it to approve that.")


class CoachViewAnswer(Answer):
    """What the coach says of a fault beside what the service found."""

    fault: FaultName
    title: str
    status: Status = Field(description="What the coach says, and the recap with the coach.")
    grade: Grade | None
    service: Status = Field(description="What the service found.")
    contradicts: bool = Field(description="Whether the two differ, in status or in grade.")
    text: str


class OwnKeyAnswer(Answer):
    """A key of the coach's own."""

    place: int = Field(description="Counts all keys, the priorities too, from 1.")
    title: str
    description: str | None
    effect: str | None
    work_on: str | None
    dose: str | None
    check: str | None
    position: int
    view: View | None = Field(description="The side that it was asked to be drawn from.")
    swing_id: str | None = Field(
        description="The swing it is drawn over; null where none shows the position."
    )
    drawing: list[ShapeAnswer]
    picture: str | None = Field(description="Path of the picture; null where there is none.")


def to_standing(standing: ApprovalStatus) -> StandingAnswer:
    """Whether a recap is a draft, as an answer."""
    last = standing.approval
    return StandingAnswer(
        draft=standing.draft,
        why=[ReasonAnswer.model_validate(reason) for reason in standing.why],
        approval=None
        if last is None
        else ApprovalAnswer(
            reviewer=last.reviewer, created=last.created, withdrawn=last.told is None
        ),
        fingerprint=standing.told.fingerprint,
    )


def to_own_keys(recap: Recap, lesson_id: str) -> list[OwnKeyAnswer]:
    """The coach's own keys of a recap."""
    return [
        OwnKeyAnswer(
            place=placed.place,
            title=placed.key.title,
            position=placed.key.position,
            view=placed.key.view,
            swing_id=recap.drawn.own_pictures.get(placed.place),
            drawing=[ShapeAnswer.model_validate(shape) for shape in placed.key.drawing],
            picture=f"/v1/lessons/{lesson_id}/recap/own-keys/{placed.place}/picture.svg"
            if placed.place in recap.drawn.own_pictures
            else None,
            **vars(placed.key.words),
        )
        for placed in recap.story.own_keys
    ]
