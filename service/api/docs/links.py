"""Links from what was made to what can be done with it (OpenAPI 3.1.0, "Link Object")."""

from __future__ import annotations

from typing import Any, Final

_ETAG: Final[str] = "$response.header.ETag"
_CHANGES: Final[frozenset[str]] = frozenset({"changePlayer", "changeLesson", "changeSwing"})
"""Operations that must say which version they change."""

_LINKS: Final[dict[str, tuple[dict[str, str], tuple[str, ...]]]] = {
    "createPlayer": (
        {"player_id": "$response.body#/id"},
        (
            "getPlayer",
            "changePlayer",
            "deletePlayer",
            "createLesson",
            "listLessons",
            "getProgress",
            "exportPlayer",
        ),
    ),
    "createLesson": (
        {"lesson_id": "$response.body#/id"},
        (
            "getLesson",
            "changeLesson",
            "deleteLesson",
            "createSwing",
            "createSwings",
            "getRecap",
            "getRecapPage",
        ),
    ),
    "createSwing": (
        {"swing_id": "$response.body#/swing/id"},
        (
            "getSwing",
            "changeSwing",
            "deleteSwing",
            "getNewestAnalysis",
            "listAnalyses",
            "reanalyseSwing",
            "getFrame",
        ),
    ),
}
"""By the operation that makes something: where its id stands, and the operations that take it."""


def tell_links(operation: dict[str, Any]) -> None:
    """Add to an operation that makes something where to go on from there."""
    parameters, targets = _LINKS.get(operation["operationId"], ({}, ()))
    if targets:
        operation["responses"]["201"]["links"] = {
            target: _link(target, parameters) for target in targets
        }


def _link(target: str, parameters: dict[str, str]) -> dict[str, Any]:
    version = {"header.If-Match": _ETAG} if target in _CHANGES else {}
    return {"operationId": target, "parameters": {**parameters, **version}}
