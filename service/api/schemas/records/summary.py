"""Fault rates of many kept swings: what may be asked and what is answered."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import Query
from pydantic import BaseModel, ConfigDict, Field, ValidationInfo, field_validator

from service.analysis.types import Club, View
from service.api.http.languages import LanguageCode
from service.api.names import FaultName
from service.api.schemas.records.requests import Day, Uuid, not_before_the_first
from service.api.schemas.values import Number
from service.languages import Language
from service.lessons.not_judged import film_instead, why
from service.lessons.rates import FaultRate, Group, Summary
from service.records import SwingFilter
from service.records.keeping.rates import GroupBy


class SummaryQuery(BaseModel):
    """Which swings are summed up, and in which groups."""

    model_config = ConfigDict(extra="forbid")

    by: GroupBy | None = Field(
        default=None, description="What the groups go by; without it there are none."
    )
    player_id: Uuid | None = None
    view: View | None = None
    club: Club | None = None
    first_day: Day | None = Field(default=None, description="Of the lesson, included.")
    last_day: Day | None = Field(
        default=None, description="Of the lesson, included; not before `first_day`."
    )

    lang: LanguageCode | None = None

    @field_validator("last_day")
    @classmethod
    def _not_before_the_first(cls, last: date | None, info: ValidationInfo) -> date | None:
        return not_before_the_first(last, info)

    def wanted(self) -> SwingFilter:
        """The filter that is meant."""
        return SwingFilter(**self.model_dump(exclude={"by", "lang"}))


SummaryOf = Annotated[SummaryQuery, Query()]


class IntervalAnswer(BaseModel):
    """Where a rate lies with 95 % certainty."""

    low: Number
    high: Number


class ReasonCountAnswer(BaseModel):
    """Why a fault was not assessable in some of the swings."""

    reason: str = Field(
        description="A code of `ReasonCode`; `not_told` where an earlier version kept the finding."
    )
    text: str = Field(description="The same for people.")
    swings: int
    film_instead: str | None = Field(description="What to film so that it falls away.")


class FaultRateAnswer(BaseModel):
    """One fault among the swings of a group."""

    fault: FaultName
    title: str
    present: int
    absent: int
    uncertain: int
    not_assessable: int
    rate: Number | None = Field(
        description="Share with the fault among the swings in which it was found present or "
        "absent; null where there is none."
    )
    interval: IntervalAnswer | None = Field(
        description="Of the rate (Wilson 1927), the swings taken as independent; those of one "
        "player are alike, so that few players make it less sure."
    )
    reasons: list[ReasonCountAnswer] = Field(description="The commonest first.")


class GroupAnswer(BaseModel):
    """Swings that are alike in what the summary goes by."""

    name: str | None = Field(description="Null for those that do not tell, and for all together.")
    swings: int = Field(description="Clips in which a golf swing was found.")
    no_swing: int = Field(description="Clips in which none was found.")
    faults: list[FaultRateAnswer] = Field(description="Those that were looked for.")


class SummaryAnswer(BaseModel):
    """Fault rates of kept swings by their newest analyses."""

    by: GroupBy | None
    total: GroupAnswer
    groups: list[GroupAnswer] = Field(description="The largest first.")
    groups_left_out: int = Field(description="Smaller groups, which are only in `total`.")


def to_summary(summary: Summary, told_in: Language) -> SummaryAnswer:
    """The answer in a language."""
    return SummaryAnswer(
        by=None if summary.by is None else GroupBy(summary.by),
        total=_group(summary.total, told_in),
        groups=[_group(group, told_in) for group in summary.groups],
        groups_left_out=summary.left_out,
    )


def _group(group: Group, told_in: Language) -> GroupAnswer:
    return GroupAnswer(
        name=group.name,
        swings=group.swings,
        no_swing=group.no_swing,
        faults=[_rate(rate, told_in) for rate in group.rates],
    )


def _rate(rate: FaultRate, told_in: Language) -> FaultRateAnswer:
    return FaultRateAnswer(
        fault=rate.fault,
        title=told_in.say(rate.title),
        present=rate.present,
        absent=rate.absent,
        uncertain=rate.uncertain,
        not_assessable=rate.not_assessable,
        rate=rate.rate,
        interval=rate.interval and IntervalAnswer(low=rate.interval[0], high=rate.interval[1]),
        reasons=[_reason(code, count, told_in) for code, count in rate.reasons.items()],
    )


def _reason(code: str, count: int, told_in: Language) -> ReasonCountAnswer:
    advice = film_instead(code)
    return ReasonCountAnswer(
        reason=code,
        text=told_in.say(why(code)),
        swings=count,
        film_instead=advice and told_in.say(advice),
    )
