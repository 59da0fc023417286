"""Problem details for HTTP APIs (RFC 9457): every error answer of the service."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from fastapi import Request, Response
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from service.application.errors import MAX_ERRORS, InvalidRequest, MalformedJson

MEDIA_TYPE: Final[str] = "application/problem+json"
_MAX_INSTANCE = 200


@dataclass(frozen=True)
class ProblemKind:
    """A kind of problem: its page is served under ``/problems/`` and its slug."""

    slug: str
    status: int
    title: str
    meaning: str

    @property
    def type(self) -> str:
        """The problem type, a URI reference to the page that explains it."""
        return f"/problems/{self.slug}"


INVALID_REQUEST: Final = ProblemKind(
    "invalid-request",
    422,
    "The request breaks the contract",
    "The body is JSON, but some of its fields are missing, unknown or hold what they must not. "
    "`errors` has one entry a field: `pointer` is a JSON Pointer to it, `problem` says what is "
    f"wrong and `fix` what to send instead. At most {MAX_ERRORS} are told; `errors_omitted` "
    "counts the rest.",
)
MALFORMED_JSON: Final = ProblemKind(
    "malformed-json",
    400,
    "The body is not JSON",
    "The body is empty, cut off, not UTF-8, nested too deep or otherwise not JSON (RFC 8259).",
)
MALFORMED_GZIP: Final = ProblemKind(
    "malformed-gzip",
    400,
    "The body is not gzip",
    "Content-Encoding says gzip (RFC 1952), but the body is something else or cut off.",
)
BODY_TOO_LARGE: Final = ProblemKind(
    "body-too-large",
    413,
    "The body is too large",
    "The body is larger than the service takes, as sent or once decompressed. Cut the clip to a "
    "few seconds about the swing, or round coordinates to a tenth of a pixel.",
)
UNSUPPORTED_MEDIA_TYPE: Final = ProblemKind(
    "unsupported-media-type",
    415,
    "The body's type is not supported",
    "Send Content-Type: application/json.",
)
UNSUPPORTED_ENCODING: Final = ProblemKind(
    "unsupported-encoding",
    415,
    "The body's encoding is not supported",
    "Send the body as it is, or with Content-Encoding: gzip.",
)
NOT_FOUND: Final = ProblemKind(
    "not-found", 404, "There is nothing here", "No resource has this path or name."
)
METHOD_NOT_ALLOWED: Final = ProblemKind(
    "method-not-allowed",
    405,
    "This path does not take that method",
    "The Allow header of the answer lists the methods it takes.",
)
NOT_READY: Final = ProblemKind(
    "not-ready",
    503,
    "The service is not ready",
    "A check made at start-up failed; `detail` says which. Send no requests to this instance.",
)
INTERNAL_ERROR: Final = ProblemKind(
    "internal-error",
    500,
    "Something went wrong here",
    "The fault is the service's. Report the answer's X-Request-ID, under which it was logged.",
)

PROBLEMS: Final[Mapping[str, ProblemKind]] = {
    kind.slug: kind
    for kind in (
        INVALID_REQUEST,
        MALFORMED_JSON,
        MALFORMED_GZIP,
        BODY_TOO_LARGE,
        UNSUPPORTED_MEDIA_TYPE,
        UNSUPPORTED_ENCODING,
        NOT_FOUND,
        METHOD_NOT_ALLOWED,
        NOT_READY,
        INTERNAL_ERROR,
    )
}
"""Every kind of problem by its slug."""

_BY_STATUS = {404: NOT_FOUND, 405: METHOD_NOT_ALLOWED}


class FieldProblem(BaseModel):
    """One field that is wrong."""

    pointer: str = Field(description="JSON Pointer (RFC 6901) into the request.")
    problem: str = Field(description="What is wrong.")
    fix: str = Field(description="What to send instead.")


class Problem(BaseModel):
    """Problem details (RFC 9457)."""

    type: str = Field(description="URI reference to a page that explains this kind of problem.")
    title: str
    status: int
    detail: str
    instance: str = Field(description="Path of the request.")
    errors: list[FieldProblem] | None = Field(
        default=None, description="One entry a field; only with `/problems/invalid-request`."
    )
    errors_omitted: int | None = Field(default=None, description="How many more fields are wrong.")

    def body(self) -> bytes:
        """The problem as JSON text, without the members that don't apply."""
        return self.model_dump_json(exclude_none=True).encode()


@dataclass
class ProblemError(Exception):
    """Ends a request with a problem of one kind."""

    kind: ProblemKind
    detail: str
    headers: dict[str, str] = field(default_factory=dict)


def to_problem(error: Exception, instance: str) -> Problem:
    """The problem that an exception is told as; unforeseen ones tell nothing of themselves."""
    match error:
        case InvalidRequest():
            return _invalid_request(error, instance)
        case MalformedJson():
            return _problem(MALFORMED_JSON, f"The body can't be read: {error}.", instance)
        case ProblemError():
            return _problem(error.kind, error.detail, instance)
        case HTTPException(status_code=status) if status in _BY_STATUS:
            kind = _BY_STATUS[status]
            return _problem(kind, kind.meaning, instance)
        case HTTPException():
            return Problem(
                type="about:blank",
                title=error.detail,
                status=error.status_code,
                detail=error.detail,
                instance=instance,
            )
        case _:
            return _problem(INTERNAL_ERROR, INTERNAL_ERROR.meaning, instance)


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


async def answer_with_problem(request: Request, error: Exception) -> Response:
    """Exception handler that answers with problem details."""
    problem = to_problem(error, request.url.path[:_MAX_INSTANCE])
    headers = error.headers if isinstance(error, ProblemError | HTTPException) else None
    return Response(problem.body(), problem.status, headers, MEDIA_TYPE)
