"""How every operation that takes a key is tried with what belongs to another academy."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from tests.attack.two_academies.academies import CONSENT, JSON
from tests.records.kept import DAY, still_body

Ids = Mapping[str, str]
NOTHING = "00000000-0000-7000-8000-00000000dead"
_NO_OTHER = "00000000-0000-7000-8000-0000000000ff"
"""Nobody's either: a comparison names each swing once."""


@dataclass(frozen=True)
class Try:
    """One request.

    Attributes
    ----------
    status
        What it is answered with when the ids are another's.
    body
        Arguments of the client, from the ids that are tried.
    """

    status: int
    body: Callable[[Ids], dict[str, Any]] = field(default=lambda _: {})
    query: Callable[[Ids], dict[str, str]] = field(default=lambda _: {})


def _json(**sent: Any) -> Callable[[Ids], dict[str, Any]]:
    return lambda _: {"json": sent, "headers": {"If-Match": "*"}}


def _any_version(_: Ids) -> dict[str, Any]:
    return {"headers": {"If-Match": "*"}}


def _reviewer(_: Ids) -> dict[str, str]:
    return {"reviewer": "somebody"}


def _clip(_: Ids) -> dict[str, Any]:
    return {"content": still_body(), "headers": JSON}


def _lines(_: Ids) -> dict[str, Any]:
    return {"content": still_body() + b"\n", "headers": {"Content-Type": "application/x-ndjson"}}


def _comparison(ids: Ids) -> dict[str, Any]:
    return {"json": {"before": [ids["swing"]], "after": [_NO_OTHER]}}


_PLAYER = "/v1/players/{player_id}"
_LESSON = "/v1/lessons/{lesson_id}"
_SWING = "/v1/swings/{swing_id}"
_BATCH = "/v1/batches/{batch_id}"
_REVIEW = "/v1/swings/{swing_id}/findings/{fault}/review"
FAULT = "long_backswing"

TRIES: dict[tuple[str, str], Try] = {
    ("POST", "/v1/swings/analyze"): Try(200, _clip),
    ("GET", "/v1/players"): Try(200),
    ("POST", "/v1/players"): Try(201, _json(name="own", **CONSENT)),
    ("GET", _PLAYER): Try(404),
    ("PATCH", _PLAYER): Try(404, _json(name="taken over")),
    ("DELETE", _PLAYER): Try(404),
    ("GET", f"{_PLAYER}/export"): Try(404),
    ("GET", f"{_PLAYER}/lessons"): Try(404),
    ("POST", f"{_PLAYER}/lessons"): Try(404, _json(date=str(DAY))),
    ("GET", f"{_PLAYER}/progress"): Try(404),
    ("GET", _LESSON): Try(404),
    ("PATCH", _LESSON): Try(404, _json(coach_note="taken over")),
    ("DELETE", _LESSON): Try(404),
    ("POST", f"{_LESSON}/swings"): Try(404, _clip),
    ("POST", f"{_LESSON}/swings/batch"): Try(404, _lines),
    ("GET", f"{_LESSON}/recap"): Try(404),
    ("GET", f"{_LESSON}/recap.html"): Try(404),
    ("GET", "/v1/swings"): Try(200, query=lambda ids: {"lesson_id": ids["lesson"]}),
    ("GET", _SWING): Try(404),
    ("PATCH", _SWING): Try(404, _json(role="after")),
    ("DELETE", _SWING): Try(404),
    ("GET", f"{_SWING}/analysis"): Try(404),
    ("GET", f"{_SWING}/analyses"): Try(404),
    ("GET", f"{_SWING}/analyses/{{number}}"): Try(404),
    ("POST", f"{_SWING}/reanalyse"): Try(404),
    ("GET", f"{_SWING}/frames/{{position}}.svg"): Try(404),
    ("GET", _REVIEW): Try(404),
    ("PUT", _REVIEW): Try(404, _json(verdict="confirm", reviewer="somebody")),
    ("DELETE", _REVIEW): Try(404, _any_version, _reviewer),
    ("GET", f"{_REVIEW}/history"): Try(404),
    ("GET", f"{_LESSON}/recap/edits"): Try(404),
    ("PUT", f"{_LESSON}/recap/edits"): Try(404, _json(keys=[], reviewer="somebody")),
    ("GET", f"{_LESSON}/recap/own-keys/{{number}}/picture.svg"): Try(404),
    ("POST", f"{_LESSON}/recap/approval"): Try(
        404, _json(reviewer="somebody", fingerprint="0" * 32)
    ),
    ("DELETE", f"{_LESSON}/recap/approval"): Try(404, _any_version, _reviewer),
    ("GET", "/v1/model/agreement"): Try(200),
    ("GET", "/v1/summary"): Try(200, query=lambda ids: {"player_id": ids["player"]}),
    ("POST", "/v1/comparisons"): Try(404, _comparison),
    ("GET", "/v1/batches"): Try(200),
    ("POST", "/v1/batches"): Try(404, _lines, query=lambda ids: {"lesson_id": ids["lesson"]}),
    ("GET", _BATCH): Try(404),
    ("GET", f"{_BATCH}/results"): Try(404),
    ("POST", f"{_BATCH}/cancel"): Try(404),
    ("DELETE", _BATCH): Try(404),
    ("GET", "/v1/audit"): Try(200, query=lambda ids: {"player_id": ids["player"]}),
    ("GET", "/v1/audit/export"): Try(200),
}
"""By method and path of the contract."""


def filled(path: str, ids: Ids) -> str:
    """A path of the contract with ids in it."""
    values = {f"{kind}_id": value for kind, value in ids.items()}
    return path.format(**values, number=1, position="4.0", fault=FAULT)
