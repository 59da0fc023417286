"""Pages that the types of problems lead to."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from service.api.problems.details import ProblemError
from service.api.problems.kinds import NOT_FOUND, PROBLEMS
from service.api.problems.pages import page

router = APIRouter(prefix="/problems", include_in_schema=False)


@router.get("")
async def list_problems() -> HTMLResponse:
    """Explain every kind of problem."""
    return HTMLResponse(page("Problems", PROBLEMS.values()))


@router.get("/{slug}")
async def get_problem(slug: str) -> HTMLResponse:
    """Explain one kind of problem."""
    if slug not in PROBLEMS:
        raise ProblemError(NOT_FOUND, "No kind of problem has this name; /problems lists them.")
    kind = PROBLEMS[slug]
    return HTMLResponse(page(kind.title, [kind]))
