"""What the OpenAPI contract says beyond what the routes say of themselves."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from typing import Any, Final

from fastapi import APIRouter, FastAPI
from fastapi.routing import APIRoute
from pydantic import BaseModel
from pydantic.json_schema import JsonSchemaMode, models_json_schema

from service.api.access.scopes import scope_of
from service.api.docs import examples
from service.api.docs.bodies import BODIES, LINES
from service.api.docs.glossary import tell_fields, tell_parameters
from service.api.docs.headers import HEADERS, PARAMETERS, asks_for_records, tell_headers
from service.api.docs.links import tell_links
from service.api.docs.shown import show_answers
from service.api.http.bodies.body import NDJSON
from service.api.http.dependencies import CHECKED_PATHS
from service.api.http.retries import IDEMPOTENCY_KEY
from service.api.names import with_names_apart
from service.api.problems.answers import MEDIA_TYPE
from service.api.problems.details import Problem
from service.api.problems.kinds import (
    BODY_TOO_LARGE,
    CONSENT_MISSING,
    INTERNAL_ERROR,
    INVALID_PARAMETER,
    INVALID_REQUEST,
    KEY_LACKS_SCOPE,
    KEY_MISSING,
    KEY_REUSED,
    MALFORMED_GZIP,
    MALFORMED_JSON,
    METHOD_NOT_ALLOWED,
    NO_SPACE,
    NOT_ACCEPTABLE,
    NOT_COMPARABLE,
    NOT_FOUND,
    NOT_READY,
    PERHAPS_WRITTEN,
    PRECONDITION_REQUIRED,
    PROBLEMS,
    RECORDS_UNAVAILABLE,
    STALE_VERSION,
    TOO_BUSY,
    TOO_MANY,
    UNKNOWN_HOST,
    UNSUPPORTED_ENCODING,
    UNSUPPORTED_MEDIA_TYPE,
    ProblemKind,
)
from service.api.routes.batches import BATCHES_PATH, RESULTS_PATH
from service.api.routes.comparisons import COMPARISONS_PATH, ComparisonRequest
from service.api.schemas.coach.edits import RecapEditsBody
from service.api.schemas.coach.recap import ApprovalBody
from service.api.schemas.coach.reviews import NewReviewBody
from service.api.schemas.many.batch import LineAnswer
from service.api.schemas.many.batches import FolderBatch
from service.api.schemas.many.lines import BatchLineAnswer
from service.api.schemas.records.audit import AuditEntryAnswer
from service.api.schemas.records.requests import (
    LessonChanges,
    NewLesson,
    NewPlayer,
    PlayerChanges,
    SwingChanges,
)
from service.intake.request import SwingRequest

TITLE: Final[str] = "Swing faults"
DESCRIPTION: Final[str] = """\
Pose keypoints of one golf swing in; its positions P1 to P10, measures and labelled faults out.

Points have x to the right and y down the image. Times are seconds of the player's own time
from the first frame, frames are zero-based. Errors are problem details (RFC 9457); their
`type` leads to a page that explains them. Every answer carries `X-Request-ID`, the one sent
or a new one. The advice in the catalogue is no medical advice.

Where keys are asked for, send one as `Authorization: Bearer`; each operation names the scope that
the key needs. A key sees the players, lessons and swings of its academy, and nothing of any other.
"""
TAGS: Final[list[dict[str, Any]]] = [
    {"name": "swings", "description": "Analyse a swing, and find those that are kept."},
    {"name": "players", "description": "Those whose swings are kept."},
    {"name": "lessons", "description": "Visits of a player, with their swings."},
    {"name": "batches", "description": "Many swings, analysed in the background."},
    {"name": "comparisons", "description": "What changed, what holds, how a player gets on."},
    {"name": "audit", "description": "Who read or changed what of whom."},
    {"name": "coaches", "description": "The coach's word on findings and recaps."},
    {"name": "catalogue", "description": "What the service knows and understands."},
    {"name": "health", "description": "For whoever runs it."},
]

_JSON = "application/json"
_SCHEMA = "#/components/schemas/{model}"
_OF_A_BODY = (
    MALFORMED_JSON,
    MALFORMED_GZIP,
    BODY_TOO_LARGE,
    UNSUPPORTED_MEDIA_TYPE,
    UNSUPPORTED_ENCODING,
    INVALID_REQUEST,
)
_APPROVAL_PATH: Final[str] = "/v1/lessons/{lesson_id}/recap/approval"
_BODIES: Final[dict[tuple[str, str], type[BaseModel]]] = {
    (examples.ANALYZE_PATH, "post"): SwingRequest,
    ("/v1/players", "post"): NewPlayer,
    ("/v1/players/{player_id}", "patch"): PlayerChanges,
    ("/v1/players/{player_id}/lessons", "post"): NewLesson,
    ("/v1/lessons/{lesson_id}", "patch"): LessonChanges,
    ("/v1/lessons/{lesson_id}/swings", "post"): SwingRequest,
    ("/v1/swings/{swing_id}", "patch"): SwingChanges,
    (COMPARISONS_PATH, "post"): ComparisonRequest,
    (BATCHES_PATH, "post"): FolderBatch,
    ("/v1/swings/{swing_id}/findings/{fault}/review", "put"): NewReviewBody,
    ("/v1/lessons/{lesson_id}/recap/edits", "put"): RecapEditsBody,
    (_APPROVAL_PATH, "post"): ApprovalBody,
}
_LINES: Final[dict[tuple[str, str], type[BaseModel]]] = {
    ("/v1/lessons/{lesson_id}/swings/batch", "post"): SwingRequest,
    (BATCHES_PATH, "post"): SwingRequest,
}
_OF_LINES = (BODY_TOO_LARGE, UNSUPPORTED_MEDIA_TYPE, UNSUPPORTED_ENCODING, NO_SPACE)
_PROBLEMS_OF: Final[dict[str, tuple[ProblemKind, ...]]] = {
    "/readyz": (NOT_READY,),
    COMPARISONS_PATH: (NOT_FOUND, NOT_COMPARABLE),
    RESULTS_PATH: (NOT_ACCEPTABLE,),
}
_PROBLEMS_OF_ONE: Final[dict[tuple[str, str], tuple[ProblemKind, ...]]] = {
    (_APPROVAL_PATH, "post"): (STALE_VERSION,),
}
_ANY_PROBLEM = (METHOD_NOT_ALLOWED, INTERNAL_ERROR)
_HEALTH: Final = ("/healthz", "/readyz")
_TAKES_CONSENT: Final = (
    ("/v1/players", "post"),
    ("/v1/players/{player_id}/lessons", "post"),
    ("/v1/lessons/{lesson_id}/swings", "post"),
    ("/v1/swings/{swing_id}", "patch"),
    ("/v1/swings/{swing_id}/reanalyse", "post"),
    (BATCHES_PATH, "post"),
)
_BEARER: Final[dict[str, Any]] = {
    "type": "http",
    "scheme": "bearer",
    "description": "A key, made with `python -m service keys create`. In open mode none is needed.",
}


class DocumentedApp(FastAPI):
    """Adds what FastAPI can't see, as the body and the problems are read and written by hand."""

    def __init__(self, **options: Any) -> None:
        self._of_records: set[tuple[str, str]] = set()
        super().__init__(**options, generate_unique_id_function=operation_id)

    def include_router(self, router: APIRouter, **options: Any) -> None:
        """Add routes, and remember those that reach for the database."""
        self._of_records |= _operations_of_records(router)
        super().include_router(router, **options)

    def openapi(self) -> dict[str, Any]:
        """The OpenAPI contract."""
        if self.openapi_schema is None:
            contract = super().openapi()
            for path, operations in contract["paths"].items():
                for method, operation in operations.items():
                    _tell_body(operation, _BODIES.get((path, method)), _JSON)
                    _tell_body(operation, _LINES.get((path, method)), NDJSON)
                    _show_bodies(operation, _JSON, BODIES.get((path, method), {}))
                    _show_bodies(operation, NDJSON, LINES if (path, method) in _LINES else {})
                    kinds = _problems_of(path, method, operation)
                    if (path, method) in self._of_records and method != "get":
                        kinds.append(PERHAPS_WRITTEN)
                    kinds += _tell_access(path, method, operation)
                    _tell_problems(operation, kinds)
                    tell_headers(path, method, operation)
                    tell_links(operation)
                    tell_parameters(operation.get("parameters", ()))
            _tell_analysis(contract["paths"][examples.ANALYZE_PATH]["post"])
            for path, operations in contract["paths"].items():
                for method, operation in operations.items():
                    show_answers(method, path, operation)
            contract["components"]["responses"] = _shared_problems(contract["paths"])
            _add_models(contract["components"]["schemas"])
            _tell_defaults(contract["components"]["schemas"])
            apart: dict[str, Any] = {}
            contract.update(with_names_apart(contract, apart))
            contract["components"]["schemas"].update(apart)
            tell_fields(contract["components"]["schemas"])
            contract["components"]["securitySchemes"] = {"bearer": _BEARER}
            contract["components"]["examples"] = {
                kind.slug: {"summary": kind.title, "value": examples.problem(kind)}
                for kind in PROBLEMS.values()
            }
            contract["components"]["headers"] = HEADERS
            contract["components"]["parameters"] = PARAMETERS
        return super().openapi()


def operation_id(route: APIRoute) -> str:
    """A name for the function of a generated client: that of the route, as in ``analyzeSwing``."""
    first, *others = route.name.split("_")
    return first + "".join(word.capitalize() for word in others)


def _tell_defaults(schemas: dict[str, Any]) -> None:
    """Tell defaults in words: many a generator takes a field that has one for always there."""
    for schema in schemas.values():
        for told in schema.get("properties", {}).values():
            default = told.pop("default", None)
            if default is not None and schema.get("additionalProperties") is False:
                said = told.get("description", "").rstrip()
                told["description"] = f"{said} `{default}` when not sent.".strip()


def _tell_body(operation: dict[str, Any], model: type[BaseModel] | None, media_type: str) -> None:
    if model is not None:
        schema = {"$ref": _SCHEMA.format(model=model.__name__)}
        body = operation.setdefault("requestBody", {"required": True, "content": {}})
        body["content"][media_type] = {"schema": schema}


def _show_bodies(
    operation: dict[str, Any], media_type: str, shown: Mapping[str, tuple[str, object]]
) -> None:
    if shown:
        operation["requestBody"]["content"][media_type]["examples"] = {
            name: {"summary": summary, "value": body} for name, (summary, body) in shown.items()
        }


def _operations_of_records(router: APIRouter) -> set[tuple[str, str]]:
    """Path and method of every operation that reaches for the database."""
    return {
        (route.path_format, method.lower())
        for route in router.routes
        if isinstance(route, APIRoute) and asks_for_records(route)
        for method in route.methods or ()
    }


def _problems_of(path: str, method: str, operation: dict[str, Any]) -> list[ProblemKind]:
    """What can go wrong, told by what an operation takes."""
    parameters = operation.get("parameters", ())
    places = {parameter["in"] for parameter in parameters}
    headers = {parameter["name"].lower() for parameter in parameters}
    kinds = [*_PROBLEMS_OF.get(path, ()), *_PROBLEMS_OF_ONE.get((path, method), ())]
    if "requestBody" in operation:
        taken = operation["requestBody"]["content"]
        kinds += _OF_A_BODY if _JSON in taken else _OF_LINES
        kinds += [NO_SPACE] if _JSON in taken and NDJSON in taken else []
    if "path" in places:
        kinds.append(NOT_FOUND)
    if IDEMPOTENCY_KEY.lower() in headers:
        kinds += [INVALID_PARAMETER, KEY_REUSED]
    if path.startswith(CHECKED_PATHS) and INVALID_PARAMETER not in kinds:
        kinds.append(INVALID_PARAMETER)
    if "if-match" in headers:
        kinds.append(STALE_VERSION)
        kinds += [PRECONDITION_REQUIRED] if method in ("patch", "put") else []
    if path not in _HEALTH:
        kinds.append(TOO_BUSY)
    return kinds


def _tell_access(path: str, method: str, operation: dict[str, Any]) -> list[ProblemKind]:
    """Name the scope that an operation needs; returns what can go wrong with it."""
    anywhere = [] if path in _HEALTH else [UNKNOWN_HOST]
    scope = scope_of(method.upper(), path)
    if scope is None:
        return anywhere
    operation["security"] = [{"bearer": [scope]}]
    consent = [CONSENT_MISSING] if (path, method) in _TAKES_CONSENT else []
    return [*anywhere, KEY_MISSING, KEY_LACKS_SCOPE, *consent, TOO_MANY, RECORDS_UNAVAILABLE]


def _tell_problems(operation: dict[str, Any], kinds: list[ProblemKind]) -> None:
    responses = operation["responses"]
    responses.pop("422", None)  # FastAPI's own, which is never sent
    by_status = sorted(kinds, key=lambda kind: kind.status)
    for status, same in groupby(by_status, key=lambda kind: kind.status):
        responses[str(status)] = _problem_response(*same)
    responses["default"] = _problem_response(*_ANY_PROBLEM)


def _problem_response(*kinds: ProblemKind) -> dict[str, Any]:
    shown = {kind.slug: {"$ref": f"#/components/examples/{kind.slug}"} for kind in kinds}
    schema = {"$ref": _SCHEMA.format(model="Problem")}
    return {
        "description": " ".join(f"{kind.title}." for kind in kinds),
        "content": {MEDIA_TYPE: {"schema": schema, "examples": shown}},
    }


def _shared_problems(paths: Mapping[str, Any]) -> dict[str, Any]:
    """Put references in the place of answers with problems, and return these, each once.

    Told anew with every operation they were a third of the contract, all of which the page of the
    documentation reads each time that an operation is opened.
    """
    shared: dict[str, Any] = {}
    for operations in paths.values():
        for operation in operations.values():
            for status, response in operation["responses"].items():
                problems = response.get("content", {}).get(MEDIA_TYPE)
                if problems is None:
                    continue
                name = "_".join(problems["examples"])
                if shared.setdefault(name, response) != response:
                    name = "_".join([name, *response["headers"]])
                shared[name] = response
                operation["responses"][status] = {"$ref": f"#/components/responses/{name}"}
    return shared


def _tell_analysis(operation: dict[str, Any]) -> None:
    operation["responses"]["200"]["content"]["application/json"]["examples"] = {
        "swing_found": {
            "summary": "A swing; shortened, numbers made up",
            "value": examples.swing_found(),
        },
        "no_swing": {"summary": "No swing in the clip", "value": examples.no_swing()},
    }


def _add_models(schemas: dict[str, Any]) -> None:
    bodies: list[tuple[type[BaseModel], JsonSchemaMode]] = [
        (model, "validation") for model in dict.fromkeys(_BODIES.values())
    ]
    _, unseen = models_json_schema(
        [
            *bodies,
            (Problem, "serialization"),
            (LineAnswer, "serialization"),
            (AuditEntryAnswer, "serialization"),
            (BatchLineAnswer, "serialization"),
        ],
        ref_template=_SCHEMA,
    )
    for name, schema in unseen["$defs"].items():
        schemas.setdefault(name, schema)
    for never_sent in ("HTTPValidationError", "ValidationError"):
        schemas.pop(never_sent, None)
