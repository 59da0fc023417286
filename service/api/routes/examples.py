"""Routes of example requests, for whoever writes a client."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from service.analysis.types import View
from service.api.problems.details import ProblemError
from service.api.problems.kinds import NOT_FOUND
from service.api.schemas.examples import (
    PATH,
    ExampleAnswer,
    ExamplesAnswer,
    to_example,
    to_examples,
)
from service.examples import EXAMPLES

router = APIRouter(prefix=PATH, tags=["catalogue"])

_View = Annotated[View | None, Query(description="The view; the first one when not sent.")]


@router.get("", summary="Example requests")
def list_examples() -> ExamplesAnswer:
    """List an example of each fault in each view that shows it, of a sound swing (`clean`), of
    none (`no_swing`), and of a request that is refused (`bad_points`)."""
    return to_examples()


@router.get("/{shows}", summary="One example request")
def get_example(shows: str, view: _View = None) -> ExampleAnswer:
    """Give a request that shows a fault and no other, and the gist of its answer."""
    found = [e for e in EXAMPLES.values() if e.shows == shows]
    seen = [e for e in found if view is None or e.view in (view, None)]
    if not seen:
        what = f"No example shows this from {view.value}" if found and view else "No such example"
        raise ProblemError(NOT_FOUND, f"{what}; {PATH} lists them.")
    return to_example(seen[0])
