"""JSON text to a model, with a complaint about every field that is wrong."""

from __future__ import annotations

import codecs
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from service.analysis.spelling import did_you_mean
from service.intake.errors import (
    MAX_ERRORS,
    FieldError,
    InvalidRequest,
    MalformedJson,
    TooLarge,
    json_pointer,
    kind_of,
)
from service.intake.parsing.long_json import read_json

MOST_CONTAINERS: Final[int] = 1_000_000
"""Most lists and objects in a request: 5,000 frames of nearly 200 points."""

MOST_COMMAS: Final[int] = 4_000_000
"""Most values in a request: three for each of so many points, and what stands about them."""

_MOST_TOLD = 1000
_GZIP: Final[bytes] = b"\x1f\x8b"
"""How gzip begins (RFC 1952, section 2.3.1)."""
_UTF_16: Final[str] = "it is UTF-16: write it as UTF-8"
_NO_JSON: Final[Mapping[bytes, str]] = {
    codecs.BOM_UTF16_LE: _UTF_16,
    codecs.BOM_UTF16_BE: _UTF_16,
    b"{\0": _UTF_16,
    b"\0{": _UTF_16,
    b"\0\0": "it begins with zeros, as a copy does that broke off",
    b"PK\3\4": "it is a ZIP archive: unpack it first",
    b"PAR1": "it is a Parquet table",
}
"""What is often taken for JSON, by how it begins."""

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
    InvalidRequest
        When an object has a name twice.
    """
    refuse_crowds(body)
    body = body.removeprefix(codecs.BOM_UTF8)  # RFC 8259, section 8.1
    if not body.strip():
        raise MalformedJson("it is empty")
    if body.startswith(_GZIP):
        raise MalformedJson("it is gzip, but Content-Encoding: gzip is missing")
    for begin, what in _NO_JSON.items():
        if body.startswith(begin):
            raise MalformedJson(what)
    try:
        # NaN and Infinity are read, so that they can be refused with a pointer to them.
        return read_json(body)
    except InvalidRequest:
        raise
    except ValueError as error:
        raise MalformedJson(_where_no_utf8(body) or str(error)) from None


def _where_no_utf8(body: bytes) -> str:
    """Which byte is no UTF-8; empty where all is."""
    try:
        body.decode()
    except UnicodeDecodeError as error:
        return f"its byte {error.start + 1} is no UTF-8: write it as UTF-8"
    return ""


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


def refuse_crowds(body: bytes) -> None:
    """Count before anything is built: an empty list is two bytes of text and 56 in memory.

    Brackets and commas inside texts are counted too, which takes nothing from a request: its
    texts are short.

    Raises
    ------
    TooLarge
        When the text holds more lists or values than any request needs.
    """
    if len(body) <= MOST_CONTAINERS:
        return
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
    details = error.errors(include_url=False)
    return InvalidRequest(
        tuple(
            FieldError(
                json_pointer(*each["loc"]),
                _problem(each, model),
                _fix(each, model, fixes, whole_fix),
            )
            for each in details[:MAX_ERRORS]
        ),
        omitted=max(0, len(details) - MAX_ERRORS),
    )


def _problem(details: ErrorDetails, model: type[BaseModel]) -> str:
    if details["type"] == "extra_forbidden":
        known = _model_at(details["loc"], model).model_fields
        if held := _held(details, model):
            return f"is not a field of this request, but holds {', '.join(held)}"
        return f"is not a field of this request{did_you_mean(str(details['loc'][-1]), known)}"
    problem = told_plainly(details)
    of_a_kind = details["type"].endswith("_type")
    return f"{problem}, not {kind_of(details['input'])}" if of_a_kind else problem


def _held(details: ErrorDetails, model: type[BaseModel]) -> list[str]:
    """Fields of the request that an unknown one holds, as an envelope does."""
    sent = details["input"]
    at_the_top = len(details["loc"]) == 1 and isinstance(sent, dict)
    return [name for name in model.model_fields if name in sent] if at_the_top else []


def told_plainly(details: Mapping[str, Any]) -> str:
    """What is wrong with a value and which one of a few was meant, as the library found it."""
    kind, context = details.get("type", ""), details.get("ctx", {})
    problem, sent = plain_words(kind, details["msg"], context), details.get("input")
    if kind != "enum" or not isinstance(sent, str):
        return problem
    allowed = re.findall(r"'([^']*)'", str(context.get("expected", "")))
    return f"{problem}{did_you_mean(sent, allowed)}"


def _model_at(place: Sequence[int | str], model: type[BaseModel]) -> type[BaseModel]:
    """The model that holds a field, of those within one another."""
    for step in place[:-1]:
        field = model.model_fields.get(str(step))
        model = (field and _model_in(field.annotation)) or model
    return model


def _model_in(annotation: object) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next(filter(None, map(_model_in, get_args(annotation))), None)


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
    "bool_type": "should be true or false",
    "bool_parsing": "should be true or false",
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
    place = details["loc"]
    if details["type"] == "extra_forbidden":
        if _held(details, model):
            return "Send what it holds as the request itself."
        known = ", ".join(_model_at(place, model).model_fields)
        return f"Remove it or correct its name; fields are {known}."
    nearest = (fixes[step] for step in reversed(place) if isinstance(step, str) and step in fixes)
    return next(nearest, whole_fix)
