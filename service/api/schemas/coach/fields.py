"""Fields that what coaches send has in common."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Final, TypeVar

from fastapi import Path, Query
from pydantic import BaseModel, ConfigDict, StringConstraints

from service.api.names import FAULT_NAMES
from service.api.schemas.records.requests import Name
from service.intake.parsing.json_reader import read_model
from service.intake.request import NO_NUL

MOST_WORDS: Final[int] = 1000
MOST_LABEL: Final[int] = 40
REVIEWER_FIX: Final[str] = "Send the name or id of whoever says so, 1 to 200 characters."


Reviewer = Name
"""Name or id of a coach."""
Words = Annotated[
    str,
    StringConstraints(strip_whitespace=True, min_length=1, max_length=MOST_WORDS, pattern=NO_NUL),
]
FaultPath = Annotated[str, Path(description="Name of a fault in `/v1/faults`."), FAULT_NAMES]
WhoWithdraws = Annotated[Reviewer, Query(description="Name or id of whoever takes it back.")]


class Body(BaseModel):
    """What is sent; a field that is not known is refused."""

    model_config = ConfigDict(extra="forbid")


Sent = TypeVar("Sent", bound=Body)


def read(model: type[Sent], text: bytes, fixes: Mapping[str, str]) -> Sent:
    """Read what a coach sent; every field that is wrong is complained of."""
    fields = ", ".join(model.model_fields)
    return read_model(text, model, fixes, f"Send one JSON object with any of {fields}.")
