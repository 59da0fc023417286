"""JSON text to a model, with a complaint about every field that is wrong."""

from __future__ import annotations

import codecs
from collections.abc import Mapping
from difflib import get_close_matches
from typing import Final, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from service.intake.errors import (
    MAX_ERRORS,
    FieldError,
    InvalidRequest,
    MalformedJson,
    TooLarge,
    json_pointer,
)
from service.intake.long_json import read_json

MOST_CONTAINERS: Final[int] = 1_000_000
"""Most lists and objects in a request: 5,000 frames of nearly 200 points."""

MOST_COMMAS: Final[int] = 4_000_000
"""Most values in a request: three for each of so many points, and what stands about them."""

_MOST_TOLD = 1000
_CLOSE: Final[float] = 0.75
"""How alike two names must be, from 0 to 1, for one to be a slip for the other."""

Model = TypeVar("Model", bound=BaseModel)


def read_model(body: bytes, model: type[Model], fixes: Mapping[str, str], whole_fix: str) -> Model:
    """Read a model from JSON text.

    Parameters
    ----------
    body
        The text.
    model
        What it should hold.
    fixes
        What to send instead, by the name of the field.
    whole_fix
        What to send where no single field is to blame.

    Raises
    ------
    TooLarge
        When the text holds more lists or values than any request needs.
    MalformedJson
        When the text is not JSON, is not UTF-8 or nests too deep.
    InvalidRequest
        When a field is missing, unknown or of the wrong kind.
    """
    return model_of(read_raw(body), model, fixes, whole_fix)


def read_raw(body: bytes) -> object:
    """What a JSON text holds.

    Raises
    ------
    TooLarge, MalformedJson
        As :func:`read_model`.
    """
    _refuse_crowds(body)
    body = body.removeprefix(codecs.BOM_UTF8)  # RFC 8259, section 8.1
    try:
        # NaN and Infinity are read, so that they can be refused with a pointer to them.
        return read_json(body)
    except ValueError as error:
        raise MalformedJson(str(error)) from None


def model_of(raw: object, model: type[Model], fixes: Mapping[str, str], whole_fix: str) -> Model:
    """A model from what a JSON text held.

    Raises
    ------
    InvalidRequest
        As :func:`read_model`.
    """
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        raise _invalid(error, model, fixes, whole_fix) from None


def _refuse_crowds(body: bytes) -> None:
    """Count before anything is built: an empty list is two bytes of text and 56 in memory.

    Brackets and commas inside texts are counted too, which takes nothing from a request: its
    texts are short.
    """
    if body.count(b"[") + body.count(b"{") > MOST_CONTAINERS or body.count(b",") > MOST_COMMAS:
        raise TooLarge(
            "The body holds more lists or values than a clip needs. Cut the clip to a few seconds "
            "about the swing."
        )


def _invalid(
    error: ValidationError, model: type[BaseModel], fixes: Mapping[str, str], whole_fix: str
) -> InvalidRequest:
    if error.error_count() > _MOST_TOLD:  # each would cost memory only to be counted
        problem = f"has {error.error_count()} wrong or unknown fields"
        return InvalidRequest((FieldError("", problem, whole_fix),))
    details = error.errors(include_url=False, include_input=False)
    return InvalidRequest(
        tuple(
            FieldError(
                json_pointer(*each["loc"]), _problem(each), _fix(each, model, fixes, whole_fix)
            )
            for each in details[:MAX_ERRORS]
        ),
        omitted=max(0, len(details) - MAX_ERRORS),
    )


def _problem(details: ErrorDetails) -> str:
    match details["type"]:
        case "missing":
            return "is missing"
        case "extra_forbidden":
            return "is not a field of this request"
        case _:
            return plain_words(details["type"], details["msg"], details.get("ctx", {}))


def plain_words(kind: str, message: str, context: Mapping[str, object]) -> str:
    """What is wrong with a value, in words that need no knowledge of any library.

    Parameters
    ----------
    kind, message, context
        As the library that checks values has them.

    >>> plain_words("model_type", "Input should be a valid dictionary or instance of X", {})
    'should be a JSON object'
    >>> plain_words("less_than", "Input should be less than 3", {"lt": 3})
    'should be less than 3'
    >>> plain_words("too_short", "List should have at least 1 item after validation, not 0", {})
    'should have at least 1 item, not 0'
    """
    if kind in _WORDS:
        return _WORDS[kind]
    if kind == "string_pattern_mismatch":
        return "holds a character that is not taken" if "x00" in message else "has another form"
    if kind in _BOUNDS:
        words, bound = _BOUNDS[kind]
        most = context[bound]
        return f"should be {words} {f'{most:.12g}' if isinstance(most, float) else most}"
    for start in ("Input ", "String ", "List ", "Value error, "):
        message = message.removeprefix(start)
    message = message.replace(" after validation", "")
    return message[0].lower() + message[1:]


_BOUNDS: Final[Mapping[str, tuple[str, str]]] = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}
_WORDS: Final[Mapping[str, str]] = {
    "missing": "is missing",
    "extra_forbidden": "is not known here",
    "model_type": "should be a JSON object",
    "model_attributes_type": "should be a JSON object",
    "dict_type": "should be a JSON object",
    "list_type": "should be a list",
    "string_type": "should be a text",
    "float_type": "should be a number",
    "int_type": "should be a whole number",
    "int_from_float": "should be a whole number",
    "int_parsing": "should be a whole number",
    "int_parsing_size": "should be a whole number of a few digits",
    "float_parsing": "should be a number",
    "finite_number": "should be a finite number",
    "timezone_aware": "should have a time zone, such as Z or +02:00",
    "datetime_from_date_parsing": "should be a time such as 2025-05-17T10:30:00Z",
    "datetime_parsing": "should be a time such as 2025-05-17T10:30:00Z",
    "date_from_datetime_parsing": "should be a day such as 2025-05-17",
    "date_parsing": "should be a day such as 2025-05-17",
}


def _fix(
    details: ErrorDetails, model: type[BaseModel], fixes: Mapping[str, str], whole_fix: str
) -> str:
    if details["type"] == "extra_forbidden":
        return _known_fields(details, model)
    name = str(details["loc"][0]) if details["loc"] else ""
    return fixes.get(name, whole_fix)


def _known_fields(details: ErrorDetails, model: type[BaseModel]) -> str:
    """What the unknown field may have been meant for, or all that there are."""
    if len(details["loc"]) != 1:
        return "Remove it or correct its name."
    known = list(model.model_fields)
    close = get_close_matches(str(details["loc"][0]), known, n=1, cutoff=_CLOSE)
    meant = f"did you mean {close[0]}?" if close else f"fields are {', '.join(known)}."
    return f"Remove it or correct its name: {meant}"
