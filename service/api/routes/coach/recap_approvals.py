"""Routes of a coach's approval of a recap."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.http.dependencies import Records
from service.api.http.retries import Also, MayBeRetry, first_answer
from service.api.schemas.coach.fields import WhoWithdraws
from service.api.schemas.coach.recap import SentApproval, StandingAnswer, to_standing
from service.api.schemas.records.requests import RecordId
from service.records.keeping.retries import FirstAnswer
from service.report.recap import Recap
from service.use_cases.coach import approve

router = APIRouter(prefix="/v1/lessons/{lesson_id:uuid}/recap/approval", tags=["coaches"])


@router.post("", summary="Approve a recap", response_model=StandingAnswer)
def approve_recap(
    lesson_id: RecordId, approval: SentApproval, records: Records, retries: MayBeRetry
) -> Response:
    """Approve what a lesson's recap tells, as you read it; until then its page says draft.

    Once findings, keys, what changed or the coach's note are other than they were, it is a draft
    again and says why. A recap that is approved already stays so.
    """

    def keep(also: Also[Recap]) -> Recap:
        reviewer, fingerprint = approval.reviewer, approval.fingerprint
        return approve.approve_recap(records, lesson_id, reviewer, fingerprint, also)

    def answer(recap: Recap) -> FirstAnswer:
        location = f"/v1/lessons/{lesson_id}/recap"
        return first_answer("lesson", lesson_id, location, 0, to_standing(recap.standing))

    first = retries.once(approval.model_dump_json().encode(), keep, answer)
    return Response(first.body, media_type="application/json")


@router.delete("", status_code=204, summary="Withdraw the approval of a recap")
def withdraw_recap_approval(lesson_id: RecordId, reviewer: WhoWithdraws, records: Records) -> None:
    """Take the approval back, so that the recap is a draft again."""
    approve.withdraw_approval(records, lesson_id, reviewer)
