"""Headers of requests and answers, as the contract tells them."""

from __future__ import annotations

from typing import Any, Final

from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute

from service.api.http.dependencies import needs_records

_TEXT: Final[dict[str, Any]] = {"type": "string"}
HEADERS: Final[dict[str, dict[str, Any]]] = {
    "X-Request-ID": {
        "description": "The one that was sent, or a new one; the request is logged under it.",
        "required": True,
        "schema": _TEXT,
    },
    "ETag": {
        "description": "The version, for `If-Match` and `If-None-Match`.",
        "required": True,
        "schema": _TEXT,
    },
    "Location": {
        "description": "Path of what was made.",
        "required": True,
        "schema": {"type": "string", "format": "uri-reference"},
    },
    "Accept-Encoding": {
        "description": "With an encoding that is not taken: the one that is.",
        "schema": _TEXT,
    },
    "Retry-After": {
        "description": "Seconds to wait when the service has its hands full, the database is away "
        "or the allowance is used up.",
        "schema": {"type": "integer"},
    },
    "WWW-Authenticate": {
        "description": "What is asked for (RFC 6750).",
        "schema": _TEXT,
    },
    "RateLimit": {
        "description": "What is left of the allowance: `r` requests, and whole again in `t` "
        "seconds (draft-ietf-httpapi-ratelimit-headers-10). Missing where there is no limit.",
        "schema": _TEXT,
    },
    "RateLimit-Policy": {
        "description": "The allowance: `q` requests in `w` seconds, for each key or address.",
        "schema": _TEXT,
    },
    "Allow": {"description": "With 405: the methods that the path takes.", "schema": _TEXT},
}
"""Headers of answers, for the contract's components."""

PARAMETERS: Final[dict[str, dict[str, Any]]] = {
    "X-Request-ID": {
        "name": "X-Request-ID",
        "in": "header",
        "required": False,
        "description": "Up to 64 letters, digits, dots, hyphens and underscores; comes back with "
        "the answer. Anything else is replaced.",
        "schema": _TEXT,
    },
    "If-None-Match": {
        "name": "If-None-Match",
        "in": "header",
        "required": False,
        "description": "The ETag of what you have, or several; where it is still that, 304 "
        "without a body is answered.",
        "schema": _TEXT,
    },
    "Content-Encoding": {
        "name": "Content-Encoding",
        "in": "header",
        "required": False,
        "description": "`gzip` when the body is packed.",
        "schema": {"type": "string", "enum": ["gzip", "identity"]},
    },
}
"""Headers of requests, for the contract's components."""

_OF_STATUS: Final[dict[str, str]] = {
    "401": "WWW-Authenticate",
    "403": "WWW-Authenticate",
    "415": "Accept-Encoding",
    "429": "Retry-After",
    "503": "Retry-After",
    "default": "Allow",
}
_LIMIT: Final[tuple[str, ...]] = ("RateLimit", "RateLimit-Policy")
_TAGGED: Final[frozenset[tuple[str, str]]] = frozenset(
    {
        ("/v1/players", "post"),
        ("/v1/players/{player_id}", "get"),
        ("/v1/players/{player_id}", "patch"),
        ("/v1/players/{player_id}/lessons", "post"),
        ("/v1/lessons/{lesson_id}", "get"),
        ("/v1/lessons/{lesson_id}", "patch"),
        ("/v1/lessons/{lesson_id}/swings", "post"),
        ("/v1/swings/{swing_id}", "get"),
        ("/v1/swings/{swing_id}", "patch"),
        ("/v1/swings/{swing_id}/analysis", "get"),
        ("/v1/swings/{swing_id}/analyses/{number}", "get"),
        ("/v1/swings/{swing_id}/reanalyse", "post"),
        ("/v1/swings/{swing_id}/findings/{fault}/review", "get"),
        ("/v1/swings/{swing_id}/findings/{fault}/review", "put"),
        ("/v1/lessons/{lesson_id}/recap/edits", "get"),
        ("/v1/lessons/{lesson_id}/recap/edits", "put"),
    }
)
"""Operations whose answer has an ETag."""


def asks_for_records(route: APIRoute) -> bool:
    """Whether a route reaches for the database."""
    return _asks(route.dependant)


def tell_headers(path: str, method: str, operation: dict[str, Any]) -> None:
    """Add to one operation of the contract the headers that it takes and answers with."""
    parameters = operation.setdefault("parameters", [])
    for parameter in parameters:
        if parameter["name"] == "if-match":
            parameter["name"] = "If-Match"
            parameter["required"] = method == "patch"
    parameters.append(_ref("parameters", "X-Request-ID"))
    if "application/json" in operation.get("requestBody", {}).get("content", {}):
        parameters.append(_ref("parameters", "Content-Encoding"))
    if method == "get" and (path, method) in _TAGGED:
        parameters.append(_ref("parameters", "If-None-Match"))
        operation["responses"]["304"] = {"description": "It is still what you have."}
    for status, response in operation["responses"].items():
        names = ["X-Request-ID"]
        names += ["Location"] if status in ("201", "202") else []
        names += ["ETag"] if status in ("200", "201", "304") and (path, method) in _TAGGED else []
        names += [_OF_STATUS[status]] if status in _OF_STATUS else []
        names += _LIMIT if "security" in operation and status not in ("401", "403") else []
        response["headers"] = {name: _ref("headers", name) for name in names}


def _ref(kind: str, name: str) -> dict[str, Any]:
    return {"$ref": f"#/components/{kind}/{name}"}


def _asks(dependant: Dependant) -> bool:
    return dependant.call is needs_records or any(map(_asks, dependant.dependencies))
