"""Edits of a recap's keys, as they are sent and answered."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Final

from fastapi import Depends
from pydantic import (
    AfterValidator,
    ConfigDict,
    Field,
    JsonValue,
    model_validator,
)
from pydantic_core import PydanticCustomError

from service.analysis.types import View
from service.api.http.dependencies import SmallBody
from service.api.names import FAULT_NAMES
from service.api.schemas.coach.fields import (
    MOST_LABEL,
    MOST_WORDS,
    REVIEWER_FIX,
    Body,
    Reviewer,
    Words,
    read,
)
from service.api.schemas.coach.shapes import GIVEN, NULL, ShapeAnswer, ShapeBody
from service.api.schemas.records.requests import MAX_NAME, WHOLE, Name, known_fault
from service.api.schemas.values import Answer
from service.lessons.coach.edits import (
    MOST_SHAPES,
    MOST_SHOWN,
    KeyEdit,
    KeyWords,
    OwnKey,
    RecapEdits,
    Shape,
)
from service.records.reviews.entities import KeptEdits

_MOST_KEYS: Final[int] = 20
_KEYS_FIX: Final[str] = (
    f"Send a list of at most {_MOST_KEYS} keys, at most {MOST_SHOWN} of them shown: each names a "
    "fault, or has title, position and work_on for a key of your own. Words have at most "
    f"{MOST_WORDS} characters, titles {MAX_NAME}, labels {MOST_LABEL}; a drawing has at most "
    f"{MOST_SHAPES} shapes with points [x, y] in body heights."
)
_WORDS_FIX: Final[str] = f"Send a text of 1 to {MOST_WORDS} characters, or leave it out."
_FIXES: Final[dict[str, str]] = {
    "keys": _KEYS_FIX,
    "reviewer": REVIEWER_FIX,
    "fault": "Send the name of a fault in /v1/faults, or leave it out of a key of your own.",
    "hidden": "Send true or false.",
    "title": f"Send a title of 1 to {MAX_NAME} characters, of a key of your own alone.",
    **dict.fromkeys(("description", "effect", "work_on", "dose", "check"), _WORDS_FIX),
    "position": "Send a whole number from 1 to 10, as 4 for P4, of a key of your own alone.",
    "view": "Send one of face_on, down_the_line, or leave it out.",
    "drawing": f"Send a list of at most {MOST_SHAPES} shapes, or leave it out.",
    "shape": "Send one of line, angle, circle.",
    "points": "Send points [x, y] in body heights from the feet: 2 of a line, 3 of an angle, 1 of "
    "a circle.",
    "radius": "Send a number above 0, at most 1, in body heights, of a circle alone.",
    "label": f"Send a text of 1 to {MOST_LABEL} characters, or leave it out.",
}


_KEY_RULE: Final[dict[str, JsonValue]] = {
    "if": {"properties": {"fault": GIVEN}, "required": ["fault"]},
    "then": {
        "properties": {
            **dict.fromkeys(("title", "position", "view"), NULL),
            "drawing": {"maxItems": 0},
        }
    },
    "else": {
        "properties": {
            **dict.fromkeys(("title", "position", "work_on"), GIVEN),
            "hidden": {"const": False},
        },
        "required": ["title", "position", "work_on"],
    },
}


class KeyBody(Body):
    """A key: a fault's, put here, reworded or hidden, or one of the coach's own.

    With `fault` it is that fault's, and what is left out of its words stays the service's. Without
    it is the coach's own, and has `title`, `position` and `work_on`.
    """

    model_config = ConfigDict(json_schema_extra=_KEY_RULE)

    fault: Annotated[str, AfterValidator(known_fault), FAULT_NAMES] | None = None
    hidden: bool = Field(
        default=False, strict=True, description="Not to be a key, of a fault alone."
    )
    title: Name | None = Field(default=None, description="Of a key of your own.")
    description: Words | None = Field(default=None, description="What the player does.")
    effect: Words | None = Field(default=None, description="What it does to the swing.")
    work_on: Words | None = Field(default=None, description="What to do instead.")
    dose: Words | None = Field(
        default=None,
        description="How often and how fast; left out beside a `work_on`, none is told.",
    )
    check: Words | None = Field(default=None, description="What the player's own film shows.")
    position: Annotated[int, Field(ge=1, le=10, strict=True), WHOLE] | None = Field(
        default=None,
        description="Of a key of your own: 4 for P4.",
    )
    view: View | None = Field(
        default=None, description="Side to draw a key of your own from; either when not sent."
    )
    drawing: Annotated[list[ShapeBody], Field(max_length=MOST_SHAPES)] = Field(
        default_factory=list, description="What to draw over the frame of that position."
    )

    @model_validator(mode="after")
    def _one_or_the_other(self) -> KeyBody:
        own = [name for name in ("title", "position", "view") if getattr(self, name) is not None]
        own += ["drawing"] if self.drawing else []
        if self.fault is not None and own:
            raise PydanticCustomError(
                "own_of_a_fault",
                "names a fault and has {own}, which only a key of your own has: leave fault out, "
                "or {own}",
                {"own": " and ".join(own)},
            )
        if self.fault is None:
            needed = ("title", "position", "work_on")
            missing = [name for name in needed if getattr(self, name) is None]
            if missing or self.hidden:
                told = f"lacks {' and '.join(missing)}" if missing else "is hidden"
                raise PydanticCustomError(
                    "half_a_key",
                    "names no fault and {told}: a key of your own has title, position and "
                    "work_on and is shown",
                    {"told": told},
                )
        return self

    def key(self) -> KeyEdit | OwnKey:
        """The key that is meant."""
        words = KeyWords(self.description, self.effect, self.work_on, self.dose, self.check)
        if self.fault is not None:
            return KeyEdit(self.fault, self.hidden, words)
        assert self.title is not None  # validated above
        assert self.position is not None
        shapes = tuple(Shape(s.shape, tuple(s.points), s.radius, s.label) for s in self.drawing)
        return OwnKey(self.title, self.position, self.view, words, shapes)


class RecapEditsBody(Body):
    """What a coach makes of the keys of a lesson's recap."""

    keys: Annotated[list[KeyBody], Field(max_length=_MOST_KEYS)] = Field(
        description="Told in this order, and before those that it does not name. A fault that "
        "the recap does not find is refused: review it first to say that it is there."
    )
    reviewer: Reviewer = Field(description="Name or id of whoever says so.")

    @model_validator(mode="after")
    def _few_and_once(self) -> RecapEditsBody:
        named = [key.fault for key in self.keys if key.fault is not None]
        twice = sorted({name for name in named if named.count(name) > 1})
        if twice:
            raise PydanticCustomError(
                "fault_twice", "names {fault} in more than one key", {"fault": twice[0]}
            )
        shown = sum(not key.hidden for key in self.keys)
        if shown > MOST_SHOWN:
            raise PydanticCustomError(
                "too_many_keys",
                "shows {shown} keys, more than the {most} that anybody can work on",
                {"shown": shown, "most": MOST_SHOWN},
            )
        return self

    def edits(self) -> RecapEdits:
        """The edits that are meant."""
        return RecapEdits(tuple(key.key() for key in self.keys))


def read_edits(text: bytes) -> RecapEditsBody:
    """Read edits from JSON text; every field that is wrong is complained of."""
    return read(RecapEditsBody, text, _FIXES)


def _recap_edits(body: SmallBody) -> RecapEditsBody:
    return read_edits(body.text())


SentEdits = Annotated[RecapEditsBody, Depends(_recap_edits)]


class KeyAnswer(Answer):
    """A key as it was sent."""

    fault: str | None
    hidden: bool
    title: str | None
    description: str | None
    effect: str | None
    work_on: str | None
    dose: str | None
    check: str | None
    position: int | None
    view: View | None
    drawing: list[ShapeAnswer]


class RecapEditsAnswer(Answer):
    """The edits of a recap."""

    lesson_id: str
    keys: list[KeyAnswer]
    reviewer: str
    changed: datetime
    version: int = Field(description="Counts the changes from 1; the ETag holds it too.")


def to_edits(kept: KeptEdits) -> RecapEditsAnswer:
    """The answer about the edits of a recap."""
    return RecapEditsAnswer(
        lesson_id=kept.lesson_id,
        keys=[_key(key) for key in kept.edits.keys],
        reviewer=kept.reviewer,
        changed=kept.changed,
        version=kept.version,
    )


def _key(key: KeyEdit | OwnKey) -> KeyAnswer:
    return KeyAnswer.model_validate({**_NOTHING_SAID, **vars(key), **vars(key.words)})


_NOTHING_SAID: Final = {**dict.fromkeys(KeyAnswer.model_fields), "hidden": False, "drawing": ()}
"""What is answered of a key's fields that a fault's, or one of the coach's own, has not."""
