"""Routes of a coach's edits of a recap."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.http import convertors  # noqa: F401 - `count` in a path
from service.api.http.conditional import PutPrecondition, tag
from service.api.http.dependencies import Records
from service.api.routes.kept.recaps import SvgResponse
from service.api.schemas.coach.edits import RecapEditsAnswer, SentEdits, to_edits
from service.api.schemas.records.requests import RecordId
from service.records.reviews import recap_edits
from service.use_cases.coach.edit import edit_keys
from service.use_cases.coach.own_key import own_key_picture

router = APIRouter(prefix="/v1/lessons/{lesson_id:uuid}/recap", tags=["coaches"])


@router.get("/edits", summary="A coach's edits of a recap")
def get_recap_edits(lesson_id: RecordId, records: Records, response: Response) -> RecapEditsAnswer:
    """Give what a coach made of the keys of a lesson's recap, with the ETag for a change."""
    with records.reading() as session:
        kept = recap_edits.get(session, lesson_id)
    tag(response, kept.version)
    return to_edits(kept)


@router.put(
    "/edits",
    summary="Order, hide, reword and add keys",
    responses={201: {"description": "They are the first.", "model": RecapEditsAnswer}},
)
def put_recap_edits(
    lesson_id: RecordId,
    edits: SentEdits,
    expected: PutPrecondition,
    records: Records,
    response: Response,
) -> RecapEditsAnswer:
    """Say what the keys of a lesson's recap are, in place of what was said before.

    An empty list leaves them to the service. `If-Match` says which edits the change is for; none
    is needed where there are none. The same edits sent again change nothing.
    """
    with records.writing() as session:
        kept, made = edit_keys(session, lesson_id, edits.edits(), edits.reviewer, expected)
    tag(response, kept.version)
    if made:
        response.status_code = 201
        response.headers["Location"] = f"/v1/lessons/{lesson_id}/recap/edits"
    return to_edits(kept)


@router.get(
    "/own-keys/{number:count}/picture.svg",
    summary="Picture of a coach's own key",
    response_class=SvgResponse,
    responses={
        200: {
            "description": "The picture.",
            "content": {SvgResponse.media_type: {"schema": {"type": "string"}}},
        }
    },
)
def get_own_key_picture(lesson_id: RecordId, number: int, records: Records) -> SvgResponse:
    """Draw the position of a coach's own key, by its place in the recap, and what goes over it."""
    with records.reading() as session:
        return SvgResponse(own_key_picture(session, lesson_id, number))
