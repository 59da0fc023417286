"""An exception as problem details (RFC 9457)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from service.analysis.faults import CATALOGUE
from service.analysis.spelling import did_you_mean
from service.api.problems.kinds import (
    BODY_TOO_LARGE,
    CONSENT_MISSING,
    INTERNAL_ERROR,
    INVALID_PARAMETER,
    INVALID_REQUEST,
    KEY_REUSED,
    MALFORMED_JSON,
    METHOD_NOT_ALLOWED,
    NOT_COMPARABLE,
    NOT_FOUND,
    PERHAPS_WRITTEN,
    PRECONDITION_REQUIRED,
    PROBLEMS,
    RECORDS_UNAVAILABLE,
    STALE_VERSION,
    ProblemKind,
    ProblemType,
)
from service.api.problems.parameters import ParameterProblem, parameter_problems
from service.intake.errors import InvalidRequest, MalformedJson, TooLarge
from service.intake.many.errors import Unreadable, code_of
from service.lessons import NotComparable
from service.records.errors import (
    ConsentMissing,
    ForeignDatabase,
    KeyReused,
    MissingVersion,
    PerhapsWritten,
    RecordNotFound,
    RecordsUnavailable,
    StaleVersion,
)

_JSON_FIX: Final[str] = "Send one JSON text in UTF-8, its names and texts in double quotes."
_BY_STATUS = {404: NOT_FOUND, 405: METHOD_NOT_ALLOWED}


class FieldProblem(BaseModel):
    """One field that is wrong."""

    pointer: str = Field(description="JSON Pointer (RFC 6901) into the request.")
    problem: str = Field(description="What is wrong.")
    fix: str = Field(description="What to send instead.")


class Problem(BaseModel):
    """Problem details (RFC 9457)."""

    type: ProblemType = Field(
        description="URI reference to a page that explains this kind of problem."
    )
    title: str
    status: int
    detail: str
    instance: str = Field(description="Path of the request.")
    errors: list[FieldProblem] | None = Field(
        default=None, description="One entry a field; only with `/problems/invalid-request`."
    )
    errors_omitted: int | None = Field(default=None, description="How many more fields are wrong.")
    parameters: list[ParameterProblem] | None = Field(
        default=None, description="Only with `/problems/invalid-parameter`."
    )

    def body(self) -> bytes:
        """The problem as JSON text, without the members that don't apply."""
        return self.model_dump_json(exclude_none=True).encode()


_POSITION: Final = re.compile(r"/frames/[Pp](\d+(?:\.\d+)?)\.svg$")
"""A picture asked for by a position's name in the answers."""


@dataclass
class ProblemError(Exception):
    """Ends a request with a problem of one kind."""

    kind: ProblemKind
    detail: str
    headers: Mapping[str, str] = field(default_factory=dict)


def no_such_fault(name: str) -> ProblemError:
    """That a path names a fault which the catalogue doesn't have."""
    told = f"No fault has this name; /v1/faults lists them{did_you_mean(name, CATALOGUE) or '.'}"
    return ProblemError(NOT_FOUND, told)


def to_problem(error: Exception, instance: str) -> Problem:
    """The problem that an exception is told as; unforeseen ones tell nothing of themselves."""
    match error:
        case InvalidRequest():
            return _invalid_request(error, instance)
        case RequestValidationError():
            return _invalid_parameters(error, instance)
        case HTTPException() if error.status_code not in _BY_STATUS:
            return Problem(
                type="about:blank",
                title=error.detail,
                status=error.status_code,
                detail=error.detail,
                instance=instance,
            )
        case _:
            kind, detail = _kind_and_detail(error)
            if isinstance(error, HTTPException) and kind is NOT_FOUND:
                detail = f"{detail}{_meant(instance)}"
            return _problem(kind, detail, instance)


def _meant(path: str) -> str:
    """Which path was most likely meant; empty where there is no telling."""
    if "//" in path:
        return " Write one slash in place of two."
    if path.endswith("/"):
        return " Leave out the slash at the end."
    if path.endswith("/analyse"):
        return f" Write {path.removesuffix('se')}ze."
    if position := _POSITION.search(path):
        return f" Write the position as a number: {position[1]}.svg."
    return ""


def _kind_and_detail(error: Exception) -> tuple[ProblemKind, str]:
    match error:
        case ProblemError(kind, detail):
            return kind, detail
        case HTTPException():
            kind = _BY_STATUS[error.status_code]
        case MalformedJson():
            return MALFORMED_JSON, f"The body can't be read: {error}. {_JSON_FIX}"
        case TooLarge():
            return BODY_TOO_LARGE, str(error)
        case Unreadable():
            return PROBLEMS[code_of(error)], f"The file {error}. {error.fix}"
        case RecordNotFound():
            return NOT_FOUND, str(error)
        case NotComparable():
            return NOT_COMPARABLE, str(error)
        case StaleVersion():
            return STALE_VERSION, f"{error} {STALE_VERSION.meaning}"
        case MissingVersion():
            return PRECONDITION_REQUIRED, f"{error} {PRECONDITION_REQUIRED.meaning}"
        case ConsentMissing():
            return CONSENT_MISSING, f"{error} {CONSENT_MISSING.meaning}"
        case KeyReused():
            kind = KEY_REUSED
        case PerhapsWritten():
            kind = PERHAPS_WRITTEN
        case RecordsUnavailable() | ForeignDatabase():
            kind = RECORDS_UNAVAILABLE
        case _:
            kind = INTERNAL_ERROR
    return kind, kind.meaning


def _problem(kind: ProblemKind, detail: str, instance: str) -> Problem:
    return Problem(
        type=kind.type, title=kind.title, status=kind.status, detail=detail, instance=instance
    )


def _invalid_request(error: InvalidRequest, instance: str) -> Problem:
    count = len(error.errors) + error.omitted
    problem = _problem(
        INVALID_REQUEST,
        f"{count} {'thing is' if count == 1 else 'things are'} wrong with the request; "
        "`errors` says where and what to send instead.",
        instance,
    )
    problem.errors = [
        FieldProblem(pointer=e.pointer, problem=e.problem, fix=e.fix) for e in error.errors
    ]
    problem.errors_omitted = error.omitted or None
    return problem


def _invalid_parameters(error: RequestValidationError, instance: str) -> Problem:
    told = parameter_problems(error)
    names = ", ".join(dict.fromkeys(each.parameter for each in told))
    problem = _problem(INVALID_PARAMETER, f"See `parameters` for what is wrong: {names}.", instance)
    problem.parameters = told
    return problem
