"""Answers about players, lessons and kept swings."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, Generic, TypeVar

from pydantic import BaseModel, Field

from service.analysis.types import Club, Handedness, Intent, View
from service.api.http.cursors import PageQuery
from service.api.schemas.analysis import BY_RULES, SwingAnswer, fields_of_answer
from service.api.schemas.values import Answer, Number
from service.records import AnalysisEntry, ConsentBy, KeptSwing, Page, Role

Item = TypeVar("Item", bound=BaseModel)


class ConsentAnswer(Answer):
    """That somebody agreed that the player's data are kept."""

    given_on: date
    by: ConsentBy


class PlayerAnswer(Answer):
    """A player."""

    id: str
    name: str
    handedness: Handedness | None
    note: str | None
    birth_year: int | None
    consent: ConsentAnswer | None
    training_consent: bool = Field(
        description="Whether reviewed swings may be learned from, without name, notes and dates."
    )
    created: datetime
    version: int = Field(description="Counts the changes; the ETag holds it too.")
    height_cm: Number | None = Field(description="Height of the body in centimetres.")


class LessonAnswer(Answer):
    """A lesson."""

    id: str
    player_id: str
    date: date
    title: str | None
    coach_note: str | None
    created: datetime
    version: int = Field(description="Counts the changes; the ETag holds it too.")


class KeptSwingAnswer(Answer):
    """A swing that is kept; what was found is under its `/analysis`."""

    id: str
    lesson_id: str
    player_id: str
    created: datetime
    recorded_at: datetime
    role: Role
    intent: Intent
    club: Club | None
    client_reference: str | None
    n_frames: int
    frame_rate: Number = Field(description="Frames a second of the player's time.")
    analyses: int = Field(description="How many there are; the newest bears this number.")
    swing_found: bool = Field(description="By the newest analysis, like the next two.")
    view: View | None
    handedness: Handedness | None
    version: int = Field(description="Counts changes and analyses; the ETag holds it too.")


class AnalysisOfSwing(BaseModel):
    """Which analysis of which swing it is."""

    swing_id: str
    number: int = Field(description="Counts the analyses of the swing from 1.")
    created: datetime


class AnalysisEntryAnswer(AnalysisOfSwing):
    """When and by what a swing was analysed."""

    service_version: str
    model_version: str = Field(description="`rules` where rules judged what was measured.")


class KeptAnalysisAnswer(SwingAnswer, AnalysisOfSwing):
    """One analysis of a kept swing: the answer to an analysis, and which one it is."""


class AnalysedSwingAnswer(BaseModel):
    """A kept swing with one of its analyses."""

    swing: KeptSwingAnswer
    analysis: KeptAnalysisAnswer


class PageAnswer(BaseModel, Generic[Item]):
    """Part of a list, in the order in which its entries were made."""

    items: list[Item]
    next_cursor: str | None = Field(description="Send it as `cursor` to go on; null at the end.")


def to_page(
    page: Page[object], query: PageQuery, list_name: str, answer: type[Item]
) -> PageAnswer[Item]:
    """A page whose entries have the attributes of the answer."""
    items = [answer.model_validate(item) for item in page.items]
    return PageAnswer(items=items, next_cursor=query.next_cursor(list_name, page))


def to_analyses_page(
    page: Page[AnalysisEntry], query: PageQuery, list_name: str
) -> PageAnswer[AnalysisEntryAnswer]:
    """A page of analyses."""
    items = [_to_entry(entry) for entry in page.items]
    return PageAnswer(items=items, next_cursor=query.next_cursor(list_name, page))


def to_kept_analysis(swing: KeptSwing) -> KeptAnalysisAnswer:
    """The analysis of a kept swing."""
    made_by = swing.kept.made_by.service
    found = fields_of_answer(swing.analysis, swing.meta.client_reference, made_by)
    return KeptAnalysisAnswer.model_validate({**_which(swing.kept), **found})


def to_analysed_swing(swing: KeptSwing) -> AnalysedSwingAnswer:
    """A kept swing with its analysis."""
    meta = KeptSwingAnswer.model_validate(swing.meta)
    return AnalysedSwingAnswer(swing=meta, analysis=to_kept_analysis(swing))


def _to_entry(entry: AnalysisEntry) -> AnalysisEntryAnswer:
    return AnalysisEntryAnswer(
        **_which(entry),
        service_version=entry.made_by.service,
        model_version=entry.made_by.model or BY_RULES.version,
    )


def _which(entry: AnalysisEntry) -> dict[str, Any]:
    return {"swing_id": entry.swing_id, "number": entry.number, "created": entry.created}
