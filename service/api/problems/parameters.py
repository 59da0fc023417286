"""What is wrong with parameters of the query, the path or the header, and what to send instead."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, Field

from service.analysis.types import Club, Status, View
from service.intake.errors import MAX_ERRORS
from service.intake.parsing.json_reader import told_plainly
from service.languages import CODES
from service.records import Role
from service.records.keeping.rates import GroupBy

MAX_PATH: Final[int] = 200
"""Characters told of a path or a name that a caller sent."""

_OR_NOT: Final[str] = ", or leave it out."
_DAY: Final[str] = f"Send a day like 2025-05-17{_OR_NOT}"
_AN_ID: Final[str] = f"Send the id as the service gave it{_OR_NOT}"


class ParameterProblem(BaseModel):
    """One parameter of the query, the path or the header that is wrong."""

    parameter: str = Field(description="Its name.")
    problem: str = Field(description="What is wrong.")
    fix: str = Field(description="What to send instead.")


def parameter_problems(error: RequestValidationError) -> list[ParameterProblem]:
    """What is told of each; bodies are read by hand, so the framework refuses nothing else."""
    return [
        ParameterProblem(parameter=_name(each["loc"]), problem=told_plainly(each), fix=_fix(each))
        for each in error.errors()[:MAX_ERRORS]
    ]


def wrong_parameter(name: str, problem: str, fix: str) -> RequestValidationError:
    """That a parameter of the query is wrong in a way that its type does not tell."""
    return wrong_parameters({name: (problem, fix)})


def wrong_parameters(wrong: Mapping[str, tuple[str, str]]) -> RequestValidationError:
    """The same of several, each with its problem and its fix."""
    return RequestValidationError(
        [
            {"loc": ("query", name), "msg": problem, "fix": fix}
            for name, (problem, fix) in wrong.items()
        ]
    )


def _name(place: Sequence[object]) -> str:
    """A parameter's name, cut short, from its place: ``("query", "limit")``."""
    return str(place[-1])[:MAX_PATH]


def _fix(error: Mapping[str, Any]) -> str:
    return str(error.get("fix") or FIXES[str(error["loc"][-1])])


def _one_of(names: Sequence[str]) -> str:
    return f"Send one of {', '.join(names)}{_OR_NOT}"


FIXES: Final[Mapping[str, str]] = {
    "after_line": "Send the number of the last line that you have, 0 for none.",
    "by": _one_of(list(GroupBy)),
    "callback_url": f"Send an address that begins with https://{_OR_NOT}",
    "Callback-Secret": f"Send whsec_ and 24 to 64 random bytes in base64{_OR_NOT}",
    "club": _one_of(list(Club)),
    "cursor": "Send next_cursor of the page before, with the same filters, or leave it out.",
    "fault": f"Send the name of a fault in /v1/faults{_OR_NOT}",
    "first_day": _DAY,
    "follow": f"Send true or false{_OR_NOT}",
    "Idempotency-Key": "Send 1 to 200 visible ASCII characters, best a random UUID.",
    "lang": _one_of(CODES),
    "last_day": f"Send a day like 2025-05-17, not before first_day{_OR_NOT}",
    "lesson_id": _AN_ID,
    "limit": f"Send a whole number from 1 to 100{_OR_NOT}",
    "name": f"Send a part of the name, 1 to 200 characters without NUL{_OR_NOT}",
    "player_id": _AN_ID,
    "position": "Ask for a position from 1 to 10, such as 4 or 3.5.",
    "recorded_at": "Send a time with its zone, like 2025-05-17T10:30:00Z, any + written as %2B, or "
    "leave it out.",
    "reviewer": "Send the name or id of whoever takes it back, 1 to 200 characters.",
    "role": _one_of(list(Role)),
    "state": f"Send a state that batches are in, such as running or done{_OR_NOT}",
    "status": _one_of(list(Status)),
    "view": _one_of(list(View)),
}
"""What to send instead, by the name of the parameter."""
