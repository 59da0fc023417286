"""Answers that the contract shows, as a service really gave them.

``answers.json`` is written by ``python -m tests.contract.answers``: cut down to a few entries a
list, with stand-ins for ids and moments.
"""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from typing import Any, Final

FILE: Final[str] = "answers.json"
_SUMMARY: Final[str] = "Of an invented player; lists are cut short"


def key_of(method: str, path: str, status: int | str) -> str:
    """What an answer stands under in the file.

    >>> key_of("GET", "/v1/faults", 200)
    'get /v1/faults 200'
    """
    return f"{method.lower()} {path} {status}"


def show_answers(method: str, path: str, operation: dict[str, Any]) -> None:
    """Add what was answered to each JSON answer of an operation that has no example yet."""
    for status, response in operation["responses"].items():
        shown = _answers().get(key_of(method, path, status))
        for media_type, content in response.get("content", {}).items():
            if shown is not None and "json" in media_type and "examples" not in content:
                content["examples"] = {"shown": {"summary": _SUMMARY, "value": shown}}


@cache
def _answers() -> dict[str, Any]:
    told: dict[str, Any] = json.loads((resources.files(__package__) / FILE).read_bytes())
    return told
