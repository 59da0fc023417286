"""Which scope each operation needs: the one list, with nothing open that it does not name."""

from __future__ import annotations

from typing import Final

from service.records.access.keys import KeyScope

PUBLIC: Final[frozenset[str]] = frozenset(
    {
        "/",
        "/docs",
        "/docs/oauth2-redirect",
        "/docs/start.js",
        "/docs/{name}",
        "/healthz",
        "/openapi.json",
        "/problems",
        "/problems/{slug}",
        "/readyz",
        "/redoc",
        "/v1/examples",
        "/v1/examples/{shows}",
        "/v1/faults",
        "/v1/faults/{name}",
        "/v1/layouts",
        "/v1/model",
    }
)
"""Paths that tell nothing of anybody and cost little: no key is asked for."""

_RECORDS: Final[tuple[str, ...]] = (
    "/v1/players",
    "/v1/lessons",
    "/v1/swings",
    "/v1/reviews",
    "/v1/summary",
    "/v1/model/agreement",
)
_ONE: Final[dict[tuple[str, str], KeyScope]] = {
    ("POST", "/v1/swings/analyze"): KeyScope.ANALYSE,
    ("POST", "/v1/comparisons"): KeyScope.READ,
    ("POST", "/v1/lessons/{lesson_id}/swings/batch"): KeyScope.BATCH,
}
_OF_COACHES: Final[tuple[str, ...]] = ("/review", "/recap/edits", "/recap/approval")
"""Parts of the paths under which coaches have their say."""


def scope_of(method: str, path: str) -> KeyScope | None:
    """The scope that an operation needs; ``None`` where no key is needed.

    What is listed nowhere needs ``admin``, so that a new route is shut until somebody decides.

    Parameters
    ----------
    path
        With its parameters' names in place of their values.

    >>> scope_of("GET", "/v1/players/{player_id}"), scope_of("GET", "/v1/something_new")
    (<KeyScope.READ: 'read'>, <KeyScope.ADMIN: 'admin'>)
    """
    if path in PUBLIC:
        return None
    if (method, path) in _ONE:
        return _ONE[method, path]
    if path == "/v1/batches" or path.startswith("/v1/batches/"):
        return KeyScope.BATCH
    if not any(path == room or path.startswith(f"{room}/") for room in _RECORDS):
        return KeyScope.ADMIN
    if method in ("GET", "HEAD"):
        return KeyScope.READ
    of_coaches = any(part in path for part in _OF_COACHES)
    return KeyScope.REVIEW if of_coaches else KeyScope.WRITE
