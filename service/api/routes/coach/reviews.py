"""Routes of a coach's reviews of findings."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.analysis.faults import CATALOGUE
from service.api.http.conditional import ExpectedVersions, PutPrecondition, tag
from service.api.http.dependencies import Records
from service.api.problems.details import no_such_fault
from service.api.schemas.coach.fields import FaultPath, WhoWithdraws
from service.api.schemas.coach.reviews import ReviewEntryAnswer, SentReview
from service.api.schemas.records.records import PageAnswer, to_page
from service.api.schemas.records.requests import PageOf, RecordId
from service.records.reviews import findings

router = APIRouter(prefix="/v1/swings/{swing_id:uuid}/findings/{fault}/review", tags=["coaches"])


@router.get("", summary="A coach's review of a finding")
def get_review(
    swing_id: RecordId, fault: FaultPath, records: Records, response: Response
) -> ReviewEntryAnswer:
    """Give what a coach says of a fault in a swing, with the ETag that a change needs."""
    with records.reading() as session:
        entry = findings.get(session, swing_id, _known(fault))
    tag(response, entry.version)
    return ReviewEntryAnswer.model_validate(entry)


@router.put(
    "",
    summary="Confirm or reject a finding",
    responses={201: {"description": "It is the first.", "model": ReviewEntryAnswer}},
)
def put_review(
    swing_id: RecordId,
    fault: FaultPath,
    new: SentReview,
    expected: PutPrecondition,
    records: Records,
    response: Response,
) -> ReviewEntryAnswer:
    """Say that a fault is there, that it is not, or that you can't tell, whatever was found.

    It stays when the swing is analysed again. `If-Match` says which review the change is for;
    none is needed where there is no review, or none any more. The same review sent again changes
    nothing.
    """
    with records.writing() as session:
        entry, made = findings.put(session, swing_id, _known(fault), new.review(), expected)
    tag(response, entry.version)
    if made:
        response.status_code = 201
        response.headers["Location"] = f"/v1/swings/{swing_id}/findings/{fault}/review"
    return ReviewEntryAnswer.model_validate(entry)


@router.delete("", status_code=204, summary="Withdraw a review")
def withdraw_review(
    swing_id: RecordId,
    fault: FaultPath,
    reviewer: WhoWithdraws,
    expected: ExpectedVersions,
    records: Records,
) -> None:
    """Take a review back, so that what the service found counts again. The history stays."""
    with records.writing() as session:
        findings.withdraw(session, swing_id, _known(fault), reviewer, expected)


@router.get("/history", summary="History of a review")
def list_review_history(
    swing_id: RecordId, fault: FaultPath, query: PageOf, records: Records
) -> PageAnswer[ReviewEntryAnswer]:
    """List everything that coaches said of a fault in a swing, oldest first."""
    list_name = f"reviews of {_known(fault)} in {swing_id}"
    with records.reading() as session:
        page = findings.fetch_history(session, swing_id, fault, query.window(list_name))
    return to_page(page, query, list_name, ReviewEntryAnswer)


def _known(fault: str) -> str:
    if fault not in CATALOGUE:
        raise no_such_fault(fault)
    return fault
