"""Example requests, with the gist of their answers."""

from __future__ import annotations

import json
from typing import Any, Final

from pydantic import BaseModel, Field

from service.analysis.types import View
from service.api.names import FaultName
from service.examples import EXAMPLES, Example

PATH: Final[str] = "/v1/examples"


class ExpectedAnswer(BaseModel):
    """The gist of the answer to an example, while the model stays the one that is shipped."""

    status: int = Field(description="Status of the answer.")
    swing_found: bool = Field(description="False where the answer is a problem, too.")
    present: list[FaultName] = Field(description="The faults that are found; no others are.")


class ExampleEntryAnswer(BaseModel):
    """An example and where its request is."""

    name: str
    shows: str = Field(description="A fault, or `clean`, `no_swing` or `bad_points`.")
    view: View | None = Field(description="Null where it doesn't matter.")
    path: str
    expected: ExpectedAnswer


class ExamplesAnswer(BaseModel):
    """Every example."""

    examples: list[ExampleEntryAnswer]


class ExampleAnswer(ExampleEntryAnswer):
    """An example with its request, to be sent to `/v1/swings/analyze` as it is."""

    request: dict[str, Any]


def to_examples() -> ExamplesAnswer:
    """Every example, without the requests."""
    return ExamplesAnswer(examples=[ExampleEntryAnswer(**_entry(e)) for e in EXAMPLES.values()])


def to_example(example: Example) -> ExampleAnswer:
    """One example with its request."""
    return ExampleAnswer(**_entry(example), request=json.loads(example.request()))


def to_expected(example: Example) -> ExpectedAnswer:
    """What its answer will be."""
    return ExpectedAnswer(
        status=example.status, swing_found=example.swing_found, present=list(example.present)
    )


def _entry(example: Example) -> dict[str, Any]:
    view = example.view
    return {
        "name": example.name,
        "shows": example.shows,
        "view": view,
        "path": f"{PATH}/{example.shows}" + (f"?view={view.value}" if view else ""),
        "expected": to_expected(example),
    }
