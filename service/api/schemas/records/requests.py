"""What may be sent about players, lessons and swings."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from typing import Annotated, Any, Final, TypeVar

from fastapi import Depends, Query
from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
)
from pydantic_core import PydanticCustomError

from service.analysis.faults import CATALOGUE
from service.analysis.spelling import did_you_mean
from service.analysis.types import Club, Handedness, Intent, Status, View
from service.api.http.cursors import PageQuery
from service.api.http.dependencies import SmallBody
from service.api.http.languages import LanguageCode
from service.api.names import FAULT_NAMES
from service.intake.parsing.json_reader import read_model
from service.intake.request import NO_NUL
from service.records import Consent, ConsentBy, Role, SwingFilter

MAX_NAME: Final[int] = 200
MAX_TEXT: Final[int] = 20_000

_CONSENT: Final[str] = (
    "Whether the player lets the keypoints of swings that a coach reviewed be learned from, "
    "without name, notes and dates."
)
_DAY: Final[str] = r"^(19|20|21)[0-9]{2}-[0-9]{2}-[0-9]{2}$"
_TIME: Final[str] = "^(19|20|21)[0-9]{2}-"
_EARLIEST: Final = datetime(1900, 1, 1, tzinfo=UTC)
_FIRST_YEAR: Final[int] = 1900
_LAST_YEAR: Final[int] = 2199
_OF_BIRTH_YEAR: Final[str] = (
    "By it a minor is told, for whom a guardian consents. The day is not asked for."
)
_OF_CONSENT: Final[str] = "Where the service asks for it, nothing is kept of a player without."
_LATEST: Final = datetime(2200, 1, 1, tzinfo=UTC)


def _written_day(value: object) -> object:
    """Refuse what else would be taken for a day: seconds since 1970, a time at midnight."""
    if not isinstance(value, str) or not re.fullmatch(_DAY, value):
        raise PydanticCustomError("written_day", "should be a day from 1900 to 2199 as YYYY-MM-DD")
    return value


def _written_time(value: object) -> object:
    """Refuse what else would be taken for a time: seconds since 1970."""
    if isinstance(value, str) and not re.match(_TIME, value):
        raise PydanticCustomError(
            "written_time", "should be a time from 1900 to 2199 such as 2025-05-17T10:30:00Z"
        )
    return value


def _day_that_has_begun(day: date) -> date:
    if day > _latest_day():
        raise PydanticCustomError("future", "lies in the future")
    return day


def _year_that_has_begun(year: int) -> int:
    _day_that_has_begun(date(year, 1, 1))
    return year


def _latest_day() -> date:
    """The day that it is where days begin first."""
    return (datetime.now(UTC) + timedelta(hours=14)).date()


def known_fault(name: str) -> str:
    """Refuse what no analysis can speak of, rather than find nothing."""
    if name not in CATALOGUE:
        raise PydanticCustomError(
            "unknown_fault",
            "is not the name of a fault in /v1/faults{hint}",
            {"hint": did_you_mean(name, CATALOGUE)},
        )
    return name


Name = Annotated[
    str,
    StringConstraints(strip_whitespace=True, min_length=1, max_length=MAX_NAME, pattern=NO_NUL),
]
LongText = Annotated[str, StringConstraints(max_length=MAX_TEXT, pattern=NO_NUL)]
Day = Annotated[
    date,
    BeforeValidator(_written_day),
    WithJsonSchema({"type": "string", "format": "date", "pattern": _DAY}),
]
_ID: Final[str] = r"^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$"


def _whole(value: object) -> object:
    """JSON knows one kind of number, and 4.0 is a whole one."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


WHOLE: Final = BeforeValidator(_whole)
"""Lets a strict whole number be written as 4.0 too."""

BirthYear = Annotated[
    int,
    Field(ge=_FIRST_YEAR, le=_LAST_YEAR, strict=True),
    AfterValidator(_year_that_has_begun),
    WHOLE,
]
Height = Annotated[
    float,
    Field(
        ge=80,
        le=250,
        strict=True,
        description="Height of the body in centimetres; recaps then tell lengths in it.",
    ),
]
RecordId = Annotated[
    str, BeforeValidator(str), Field(json_schema_extra={"format": "uuid", "pattern": _ID})
]
"""An id in a path; the path's pattern has made sure of its form."""


def _left_out() -> Any:
    """No default in the contract, where null would read as what to send to change nothing."""
    return Field(default_factory=type(None))


class _Body(BaseModel):
    model_config = ConfigDict(extra="forbid")


class ConsentGiven(_Body):
    """That somebody agreed that the player's data are kept."""

    given_on: Annotated[Day, AfterValidator(_day_that_has_begun)] = Field(
        description="The day where it was given."
    )
    by: ConsentBy = Field(description="Who gave it: for a minor, a guardian.")

    def to_consent(self) -> Consent:
        """The same as it is kept."""
        return Consent(self.given_on, self.by)


class NewPlayer(_Body):
    """A player to keep."""

    name: Name
    handedness: Handedness | None = None
    note: LongText | None = None
    height_cm: Height | None = None
    birth_year: BirthYear | None = Field(default=None, description=_OF_BIRTH_YEAR)
    consent: ConsentGiven | None = Field(default=None, description=_OF_CONSENT)
    training_consent: bool = Field(default=False, strict=True, description=_CONSENT)

    def to_consent(self) -> Consent | None:
        """The consent as it is kept."""
        return None if self.consent is None else self.consent.to_consent()


class PlayerChanges(_Body):
    """What to change of a player; what is left out stays, null clears (RFC 7396)."""

    name: Name = Field(default_factory=str)
    handedness: Handedness | None = _left_out()
    note: LongText | None = _left_out()
    height_cm: Height | None = _left_out()
    birth_year: BirthYear | None = _left_out()
    consent: ConsentGiven | None = _left_out()
    training_consent: bool = Field(default_factory=bool, strict=True, description=_CONSENT)


class NewLesson(_Body):
    """A lesson to keep."""

    date: Day = Field(description="The day where it is given.")
    title: Name | None = None
    coach_note: LongText | None = None


class LessonChanges(_Body):
    """What to change of a lesson; what is left out stays, null clears (RFC 7396)."""

    date: Day = Field(default_factory=date.today)
    title: Name | None = _left_out()
    coach_note: LongText | None = _left_out()


class SwingChanges(_Body):
    """What to change of a swing; what is left out stays, null clears (RFC 7396)."""

    role: Role = Field(default_factory=lambda: Role.OTHER)
    intent: Intent = Field(
        default_factory=lambda: Intent.FULL_SPEED,
        description="Another one has the swing analysed again, and so has another club.",
    )
    club: Club | None = _left_out()


RecordedAt = Annotated[
    AwareDatetime,
    BeforeValidator(_written_time),
    Field(ge=_EARLIEST, lt=_LATEST),
    WithJsonSchema({"type": "string", "format": "date-time", "pattern": _TIME}),
]


class SwingFacts(BaseModel):
    """What is told of a swing beside its keypoints."""

    model_config = ConfigDict(extra="forbid")

    role: Role = Field(
        default=Role.OTHER,
        description="The part it plays in the lesson: those `before` are held against those "
        "`after`. A `rehearsal` is read as one unless its body says otherwise by `intent`.",
    )
    recorded_at: RecordedAt | None = Field(
        default=None,
        description="When it was made, from 1900 to 2199, with the time zone; now when not sent. "
        "Swings of a lesson are told in this order.",
    )


class ToldSwingFacts(SwingFacts):
    """The same, and in which language the answer is told."""

    lang: LanguageCode | None = None


Uuid = Annotated[str, StringConstraints(pattern=_ID)]


def not_before_the_first(last: date | None, info: ValidationInfo) -> date | None:
    """Refuse days in the wrong order, between which no lesson can lie."""
    first = info.data.get("first_day")
    if first is not None and last is not None and last < first:
        raise PydanticCustomError(
            "reversed_days", "lies before first_day, so that no lesson can be found"
        )
    return last


class SwingQuery(PageQuery):
    """Which swings are wanted."""

    player_id: Uuid | None = None
    lesson_id: Uuid | None = None
    fault: Annotated[str, AfterValidator(known_fault), FAULT_NAMES] | None = Field(
        default=None, description="Name of a fault that the newest analysis speaks of."
    )
    status: Status | None = Field(
        default=None,
        description="What it says of `fault`: `present` when not sent. Without `fault`, what it "
        "says of any.",
    )
    view: View | None = None
    club: Club | None = None
    first_day: Day | None = Field(default=None, description="Of the lesson, included.")
    last_day: Day | None = Field(
        default=None, description="Of the lesson, included; not before `first_day`."
    )

    @field_validator("last_day")
    @classmethod
    def _not_before_the_first(cls, last: date | None, info: ValidationInfo) -> date | None:
        return not_before_the_first(last, info)

    def wanted(self) -> SwingFilter:
        """The filter that is meant."""
        values = self.model_dump(exclude={"limit", "cursor"})
        if self.fault and self.status is None:
            values["status"] = Status.PRESENT
        return SwingFilter(**values)


class PlayerQuery(PageQuery):
    """Which players are wanted."""

    name: Name | None = Field(default=None, description="Part of the name; capitals don't matter.")


Body = TypeVar("Body", bound=_Body)

_FIXES: Final[dict[str, str]] = {
    "name": f"Send a name of 1 to {MAX_NAME} characters, without NUL.",
    "handedness": f"Send one of {', '.join(Handedness)}, or null.",
    "height_cm": "Send the height in centimetres, 80 to 250, or null.",
    "birth_year": f"Send a year from {_FIRST_YEAR} to {_LAST_YEAR}, or null.",
    "consent": "Send the day it was given and by whom, like "
    '{"given_on": "2025-05-17", "by": "guardian"}, or null.',
    "note": f"Send a text of at most {MAX_TEXT} characters without NUL, or null.",
    "training_consent": "Send true or false.",
    "date": "Send the day of the lesson, like 2025-05-17.",
    "role": f"Send one of {', '.join(Role)}.",
    "intent": f"Send one of {', '.join(Intent)}.",
    "club": f"Send one of {', '.join(Club)}, or null.",
    "title": f"Send a title of 1 to {MAX_NAME} characters without NUL, or null.",
    "coach_note": f"Send a text of at most {MAX_TEXT} characters without NUL, or null.",
}


def _read(model: type[Body], body: bytes) -> Body:
    fields = ", ".join(model.model_fields)
    return read_model(body, model, _FIXES, f"Send one JSON object with any of {fields}.")


def _new_player(body: SmallBody) -> NewPlayer:
    return _read(NewPlayer, body.text())


def _player_changes(body: SmallBody) -> PlayerChanges:
    return _read(PlayerChanges, body.text())


def _new_lesson(body: SmallBody) -> NewLesson:
    return _read(NewLesson, body.text())


def _swing_changes(body: SmallBody) -> SwingChanges:
    return _read(SwingChanges, body.text())


def _lesson_changes(body: SmallBody) -> LessonChanges:
    return _read(LessonChanges, body.text())


NewPlayerBody = Annotated[NewPlayer, Depends(_new_player)]
PlayerChangesBody = Annotated[PlayerChanges, Depends(_player_changes)]
NewLessonBody = Annotated[NewLesson, Depends(_new_lesson)]
SwingChangesBody = Annotated[SwingChanges, Depends(_swing_changes)]
LessonChangesBody = Annotated[LessonChanges, Depends(_lesson_changes)]
PageOf = Annotated[PageQuery, Query()]
PlayersPageOf = Annotated[PlayerQuery, Query()]
SwingsPageOf = Annotated[SwingQuery, Query()]
SwingFactsQuery = Annotated[SwingFacts, Query()]
ToldSwingFactsQuery = Annotated[ToldSwingFacts, Query()]


def changes_of(body: PlayerChanges | LessonChanges | SwingChanges) -> dict[str, object]:
    """Only the fields that were sent."""
    changes = body.model_dump(exclude_unset=True)
    if isinstance(body, PlayerChanges) and body.consent is not None:
        changes["consent"] = body.consent.to_consent()
    return changes
