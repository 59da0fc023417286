"""Reviews of findings, as they are sent and answered."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Final

from fastapi import Depends
from pydantic import ConfigDict, Field, JsonValue, model_validator
from pydantic_core import PydanticCustomError

from service.analysis.types import CoachVerdict, Grade
from service.api.http.dependencies import SmallBody
from service.api.names import FaultName
from service.api.schemas.coach.fields import (
    REVIEWER_FIX,
    Body,
    Reviewer,
    read,
)
from service.api.schemas.records.requests import MAX_TEXT, WHOLE, LongText
from service.api.schemas.values import Answer
from service.records.reviews.entities import NewReview

_FIXES: Final[dict[str, str]] = {
    "verdict": f"Send one of {', '.join(CoachVerdict)}.",
    "grade": f"Send one of {', '.join(Grade)} with the verdict confirm, or null.",
    "note": f"Send a text of at most {MAX_TEXT} characters without NUL, or null.",
    "reviewer": REVIEWER_FIX,
    "analysis": "Send the number of one of the swing's analyses, or null for the newest.",
}
_RULE: Final[dict[str, JsonValue]] = {
    "if": {"properties": {"grade": {"not": {"type": "null"}}}, "required": ["grade"]},
    "then": {"properties": {"verdict": {"const": CoachVerdict.CONFIRM.value}}},
}
"""What is graded is confirmed, as the contract tells it."""


class NewReviewBody(Body):
    """A coach's word on a fault in a swing, whatever the service found."""

    model_config = ConfigDict(json_schema_extra=_RULE)

    verdict: CoachVerdict = Field(
        description="`confirm`: the fault is there, `reject`: it is not, `unsure`: you can't tell."
    )
    grade: Grade | None = Field(
        default=None, description="How strongly it shows, where it is confirmed."
    )
    note: LongText | None = None
    reviewer: Reviewer = Field(description="Name or id of whoever says so.")
    analysis: Annotated[int, Field(ge=1, lt=1_000_000_000, strict=True), WHOLE] | None = Field(
        default=None,
        description="Number of the analysis that you looked at; the newest when not sent.",
    )

    @model_validator(mode="after")
    def _graded_only_where_confirmed(self) -> NewReviewBody:
        if self.grade is not None and self.verdict is not CoachVerdict.CONFIRM:
            raise PydanticCustomError(
                "graded_unconfirmed",
                "has a grade with another verdict than confirm: leave grade out, or confirm",
            )
        return self

    def review(self) -> NewReview:
        """The review that is meant."""
        return NewReview(self.verdict, self.reviewer, self.grade, self.note, self.analysis)


def read_review(text: bytes) -> NewReviewBody:
    """Read a review from JSON text; every field that is wrong is complained of."""
    return read(NewReviewBody, text, _FIXES)


def _new_review(body: SmallBody) -> NewReviewBody:
    return read_review(body.text())


SentReview = Annotated[NewReviewBody, Depends(_new_review)]


class ReviewEntryAnswer(Answer):
    """One entry of the history of a review; the last one counts."""

    swing_id: str
    fault: FaultName
    verdict: CoachVerdict | None = Field(description="Null where the review was withdrawn.")
    grade: Grade | None
    note: str | None
    reviewer: str
    created: datetime
    analysis: int = Field(description="Number of the analysis that the coach looked at.")
    version: int = Field(description="Counts the entries from 1; the ETag holds it too.")
