"""Routes of what a lesson leaves to look at: its recap, and pictures of kept swings."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Path, Query, Response
from fastapi.responses import HTMLResponse

from service.api.http.dependencies import OwnBranding, Records
from service.api.http.languages import AskedLanguage, of_language
from service.api.problems.details import ProblemError
from service.api.problems.kinds import NOT_FOUND
from service.api.schemas.recap import RecapAnswer, to_recap
from service.api.schemas.records.requests import RecordId
from service.api.schemas.translation import translated
from service.report.pictures.fault_picture import draw_fault
from service.report.pictures.frames import draw_frame
from service.report.pictures.poses import PositionNotShown
from service.use_cases.history import kept_clip, wording_for
from service.use_cases.recap import Presentation, build_recap, recap_page

router = APIRouter(prefix="/v1")

_SVG: Final[str] = "image/svg+xml"
_PictureOf = Annotated[
    float, Path(ge=1, le=10, description="Position coordinate: 4 is P4, 3.5 halfway from P3 to it.")
]


_FaultShown = Annotated[
    str | None,
    Query(description="Name of a fault, to draw what it is judged by, cut to where it shows."),
]


class SvgResponse(Response):
    """A picture."""

    media_type = _SVG


@router.get("/lessons/{lesson_id:uuid}/recap", tags=["lessons"], summary="Recap of a lesson")
def get_recap(
    lesson_id: RecordId, records: Records, told_in: AskedLanguage, response: Response
) -> RecapAnswer:
    """Sum a lesson up: the one or two keys, what changed, what held, what to keep.

    Lessons before it are looked back on as far as 300 swings reach. In another language every text
    is told in it, but for units and sources, which are as in analyses.
    """
    with records.reading() as session:
        recap = build_recap(session, lesson_id, told_in)
    response.headers.update(of_language(told_in))
    return translated(to_recap(recap, lesson_id), told_in)


@router.get(
    "/lessons/{lesson_id:uuid}/recap.html",
    tags=["lessons"],
    summary="Recap of a lesson as a page",
    response_class=HTMLResponse,
    responses={200: {"description": "The page, which needs nothing else."}},
)
def get_recap_page(
    lesson_id: RecordId, records: Records, told_in: AskedLanguage, branding: OwnBranding
) -> HTMLResponse:
    """Give the same as one self-contained page to send to the player."""
    with records.reading() as session:
        page = recap_page(session, lesson_id, Presentation(told_in, branding))
    return HTMLResponse(page, headers=of_language(told_in))


@router.get(
    "/swings/{swing_id:uuid}/frames/{position:float}.svg",
    tags=["swings"],
    summary="Picture of a position",
    response_class=SvgResponse,
    responses={
        200: {"description": "The picture.", "content": {_SVG: {"schema": {"type": "string"}}}}
    },
)
def get_frame(
    swing_id: RecordId,
    position: _PictureOf,
    records: Records,
    told_in: AskedLanguage,
    fault: _FaultShown = None,
) -> SvgResponse:
    """Draw the player at a position with the angles that matter there, or a fault's measures."""
    with records.reading() as session:
        clip, wording = kept_clip(session, swing_id), wording_for(session, swing_id, told_in)
    try:
        if fault is None:
            return SvgResponse(draw_frame(clip, position, wording))
        return SvgResponse(draw_fault({f"P{position:g}": clip}, fault, position, wording))
    except PositionNotShown as error:
        raise ProblemError(NOT_FOUND, str(error)) from None
