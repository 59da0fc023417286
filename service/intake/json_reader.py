"""JSON text to a model, with a complaint about every field that is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails, from_json

from service.intake.errors import (
    MAX_ERRORS,
    FieldError,
    InvalidRequest,
    MalformedJson,
    json_pointer,
)

_MOST_TOLD = 1000

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
    MalformedJson
        When the text is not JSON, is not UTF-8 or nests too deep.
    InvalidRequest
        When a field is missing, unknown or of the wrong kind.
    """
    try:
        # NaN and Infinity are read, so that they can be refused with a pointer to them.
        raw = from_json(body, allow_inf_nan=True)
    except ValueError as error:
        raise MalformedJson(str(error)) from None
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        raise _invalid(error, fixes, whole_fix) from None


def _invalid(error: ValidationError, fixes: Mapping[str, str], whole_fix: str) -> InvalidRequest:
    if error.error_count() > _MOST_TOLD:  # each would cost memory only to be counted
        problem = f"has {error.error_count()} wrong or unknown fields"
        return InvalidRequest((FieldError("", problem, whole_fix),))
    details = error.errors(include_url=False, include_input=False)
    return InvalidRequest(
        tuple(
            FieldError(json_pointer(*each["loc"]), _problem(each), _fix(each, fixes, whole_fix))
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
            message = details["msg"].removeprefix("Input ")
            return message[0].lower() + message[1:]


def _fix(details: ErrorDetails, fixes: Mapping[str, str], whole_fix: str) -> str:
    if details["type"] == "extra_forbidden":
        return "Remove it or correct its name."
    name = str(details["loc"][0]) if details["loc"] else ""
    return fixes.get(name, whole_fix)
