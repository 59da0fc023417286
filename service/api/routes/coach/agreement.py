"""Route of the agreement of service and coaches."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.http.dependencies import Records
from service.api.http.languages import AskedLanguage, of_language
from service.api.schemas.coach.agreement import AgreementAnswer, to_agreement
from service.api.schemas.translation import translated
from service.lessons.coach.agreement import agreement_of
from service.records.reviews import findings

router = APIRouter(prefix="/v1/model", tags=["coaches"])


@router.get("/agreement", summary="How far service and coaches agree")
def get_agreement(records: Records, told_in: AskedLanguage, response: Response) -> AgreementAnswer:
    """Count what service and coaches say of the same fault in the same swing, with Cohen's kappa.

    The newest analysis of each swing counts. Where one of the two did not decide, the pair stands
    beside the others.
    """
    with records.reading() as session:
        pairs = findings.pairs(session)
    response.headers.update(of_language(told_in))
    return translated(to_agreement(agreement_of(pairs)), told_in)
