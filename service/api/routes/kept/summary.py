"""The route that sums kept swings up."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.http.dependencies import Records
from service.api.http.languages import AcceptedLanguage, of_language
from service.api.problems.parameters import wrong_parameter
from service.api.schemas.records.summary import SummaryAnswer, SummaryOf, to_summary
from service.languages import language
from service.use_cases.summarise import TooManySwings, summary_of_kept

router = APIRouter(prefix="/v1/summary", tags=["swings"])


@router.get("", summary="How often each fault shows")
def get_summary(
    query: SummaryOf, records: Records, accepted: AcceptedLanguage, response: Response
) -> SummaryAnswer:
    """Count the faults of the kept swings that pass every filter, by their newest analyses.

    With how often each could not be judged and why, which tells what to film instead.
    """
    told_in = language(query.lang) if query.lang else accepted
    try:
        with records.reading() as session:
            summary = summary_of_kept(session, query.wanted(), query.by)
    except TooManySwings as error:
        fix = "Narrow the days, or choose a view, a club or a player."
        raise wrong_parameter("first_day", str(error), fix) from None
    response.headers.update(of_language(told_in))
    return to_summary(summary, told_in)
