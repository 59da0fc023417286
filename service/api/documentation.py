"""What the OpenAPI contract says beyond what the routes say of themselves."""

from __future__ import annotations

from itertools import groupby
from typing import Any, Final

from fastapi import FastAPI
from pydantic.json_schema import models_json_schema

from service.api import examples
from service.api.problems import (
    BODY_TOO_LARGE,
    INTERNAL_ERROR,
    INVALID_REQUEST,
    MALFORMED_GZIP,
    MALFORMED_JSON,
    MEDIA_TYPE,
    METHOD_NOT_ALLOWED,
    NOT_FOUND,
    NOT_READY,
    UNSUPPORTED_ENCODING,
    UNSUPPORTED_MEDIA_TYPE,
    Problem,
    ProblemKind,
)
from service.application.request import SwingRequest

TITLE: Final[str] = "Swing faults"
DESCRIPTION: Final[str] = """\
Pose keypoints of one golf swing in; its positions P1 to P10, measures and labelled faults out.

Points have x to the right and y down the image. Times are seconds of the player's own time
from the first frame, frames are zero-based. Errors are problem details (RFC 9457); their
`type` leads to a page that explains them. Every answer carries `X-Request-ID`, the one sent
or a new one. The advice in the catalogue is no medical advice.
"""
TAGS: Final[list[dict[str, Any]]] = [
    {"name": "swings", "description": "Analyse a swing."},
    {"name": "catalogue", "description": "What the service knows and understands."},
    {"name": "health", "description": "For whoever runs it."},
]

_SCHEMA = "#/components/schemas/{model}"
_PROBLEMS_OF: Final[dict[str, tuple[ProblemKind, ...]]] = {
    examples.ANALYZE_PATH: (
        MALFORMED_JSON,
        MALFORMED_GZIP,
        BODY_TOO_LARGE,
        UNSUPPORTED_MEDIA_TYPE,
        UNSUPPORTED_ENCODING,
        INVALID_REQUEST,
    ),
    "/v1/faults/{name}": (NOT_FOUND,),
    "/readyz": (NOT_READY,),
}
_ANY_PROBLEM = (METHOD_NOT_ALLOWED, INTERNAL_ERROR)


class DocumentedApp(FastAPI):
    """Adds what FastAPI can't see, as the body and the problems are read and written by hand."""

    def openapi(self) -> dict[str, Any]:
        """The OpenAPI contract."""
        if self.openapi_schema is None:
            contract = super().openapi()
            for path, operations in contract["paths"].items():
                for operation in operations.values():
                    _tell_problems(operation, _PROBLEMS_OF.get(path, ()))
            _tell_analysis(contract["paths"][examples.ANALYZE_PATH]["post"])
            _add_models(contract["components"]["schemas"])
        return super().openapi()


def _tell_problems(operation: dict[str, Any], kinds: tuple[ProblemKind, ...]) -> None:
    responses = operation["responses"]
    responses.pop("422", None)  # FastAPI's own, which is never sent
    for status, same in groupby(kinds, key=lambda kind: kind.status):
        responses[str(status)] = _problem_response(*same)
    responses["default"] = _problem_response(*_ANY_PROBLEM)


def _problem_response(*kinds: ProblemKind) -> dict[str, Any]:
    shown = {kind.slug: {"summary": kind.title, "value": examples.problem(kind)} for kind in kinds}
    schema = {"$ref": _SCHEMA.format(model="Problem")}
    return {
        "description": " ".join(f"{kind.title}." for kind in kinds),
        "content": {MEDIA_TYPE: {"schema": schema, "examples": shown}},
    }


def _tell_analysis(operation: dict[str, Any]) -> None:
    operation["requestBody"] = {
        "required": True,
        "content": {
            "application/json": {
                "schema": {"$ref": _SCHEMA.format(model="SwingRequest")},
                "examples": {
                    name: {"summary": summary, "value": request}
                    for name, (summary, request) in examples.REQUESTS.items()
                },
            }
        },
    }
    operation["responses"]["200"]["content"]["application/json"]["examples"] = {
        "swing_found": {
            "summary": "A swing; shortened, numbers made up",
            "value": examples.swing_found(),
        },
        "no_swing": {"summary": "No swing in the clip", "value": examples.no_swing()},
    }


def _add_models(schemas: dict[str, Any]) -> None:
    _, unseen = models_json_schema(
        [(SwingRequest, "validation"), (Problem, "serialization")], ref_template=_SCHEMA
    )
    for name, schema in unseen["$defs"].items():
        schemas.setdefault(name, schema)
    for never_sent in ("HTTPValidationError", "ValidationError"):
        schemas.pop(never_sent, None)
