"""Routes of swings that are kept."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.http import convertors  # noqa: F401 - `count` in a path
from service.api.http.conditional import RequiredVersions, tag, tag_of
from service.api.http.dependencies import Records, ServedAnalyser, Turn
from service.api.http.languages import AskedLanguage, of_language
from service.api.http.retries import Also, MayBeRetry, created, first_answer
from service.api.schemas.records.records import (
    AnalysedSwingAnswer,
    AnalysisEntryAnswer,
    KeptAnalysisAnswer,
    KeptSwingAnswer,
    PageAnswer,
    to_analysed_swing,
    to_analyses_page,
    to_kept_analysis,
    to_page,
)
from service.api.schemas.records.requests import (
    PageOf,
    RecordId,
    SwingChangesBody,
    SwingsPageOf,
    changes_of,
)
from service.api.schemas.translation import translated
from service.languages import Language
from service.records import KeptSwing
from service.records.keeping import swings
from service.records.keeping.retries import FirstAnswer
from service.use_cases.history import numbered_analysis, swing_analysis
from service.use_cases.keep import analyse_again, change_kept_swing, forget_swing

router = APIRouter(prefix="/v1/swings", tags=["swings"])


@router.get("", summary="Kept swings")
def list_swings(query: SwingsPageOf, records: Records) -> PageAnswer[KeptSwingAnswer]:
    """List the swings that pass every filter, in the order in which they were kept."""
    with records.reading() as session:
        page = swings.fetch_page(session, query.wanted(), query.window("swings"))
    return to_page(page, query, "swings", KeptSwingAnswer)


@router.get("/{swing_id:uuid}", summary="One kept swing")
def get_swing(swing_id: RecordId, records: Records, response: Response) -> KeptSwingAnswer:
    """Give one swing; its ETag changes when it is changed or analysed again."""
    with records.reading() as session:
        swing = swings.get(session, swing_id)
    tag(response, swing.version)
    return KeptSwingAnswer.model_validate(swing)


@router.patch("/{swing_id:uuid}", summary="Change a swing")
def change_swing(
    swing_id: RecordId,
    changes: SwingChangesBody,
    expected: RequiredVersions,
    records: Records,
    analyser: ServedAnalyser,
    turn: Turn,
    response: Response,
) -> KeptSwingAnswer:
    """Change role, intent or club of a swing; `If-Match` says which version the change is for.

    Another intent or club has it analysed again; what was found before stays beside it.
    """
    with turn:
        swing = change_kept_swing(records, analyser, swing_id, changes_of(changes), expected)
    tag(response, swing.version)
    return KeptSwingAnswer.model_validate(swing)


@router.delete("/{swing_id:uuid}", status_code=204, summary="Delete a swing")
def delete_swing(swing_id: RecordId, records: Records) -> None:
    """Delete a swing with its keypoints and all that was found in it."""
    forget_swing(records, swing_id)


@router.get(
    "/{swing_id:uuid}/analysis",
    summary="The newest analysis of a swing",
    response_model=KeptAnalysisAnswer,
)
def get_newest_analysis(swing_id: RecordId, records: Records, told_in: AskedLanguage) -> Response:
    """Give what was found in a swing, and by which version of service and model.

    Its ETag changes with the analysis, with what a coach says of it, and with the language.
    """
    with records.reading() as session:
        swing = swing_analysis(session, swing_id)
    return _told(swing, told_in)


def _told(swing: KeptSwing, told_in: Language) -> Response:
    body = translated(to_kept_analysis(swing), told_in).model_dump_json().encode()
    headers = {"ETag": tag_of(body), **of_language(told_in)}
    return Response(body, media_type="application/json", headers=headers)


@router.get("/{swing_id:uuid}/analyses", summary="All analyses of a swing")
def list_analyses(
    swing_id: RecordId, query: PageOf, records: Records
) -> PageAnswer[AnalysisEntryAnswer]:
    """List when and by what a swing was analysed, oldest first."""
    list_name = f"analyses of {swing_id}"
    with records.reading() as session:
        page = swings.fetch_analyses(session, swing_id, query.window(list_name))
    return to_analyses_page(page, query, list_name)


@router.get(
    "/{swing_id:uuid}/analyses/{number:count}",
    summary="One analysis of a swing",
    response_model=KeptAnalysisAnswer,
)
def get_analysis(
    swing_id: RecordId, number: int, records: Records, told_in: AskedLanguage
) -> Response:
    """Give what one analysis found, and which version of service and model made it."""
    with records.reading() as session:
        swing = numbered_analysis(session, swing_id, number)
    return _told(swing, told_in)


@router.post(
    "/{swing_id:uuid}/reanalyse",
    status_code=201,
    summary="Analyse a swing again",
    response_model=AnalysedSwingAnswer,
)
def reanalyse_swing(
    swing_id: RecordId,
    records: Records,
    analyser: ServedAnalyser,
    turn: Turn,
    retries: MayBeRetry,
    told_in: AskedLanguage,
) -> Response:
    """Analyse a kept swing with the present version; what was found before stays beside it."""

    def keep(also: Also[KeptSwing]) -> KeptSwing:
        return analyse_again(records, analyser, swing_id, also)

    def answer(swing: KeptSwing) -> FirstAnswer:
        location = f"/v1/swings/{swing.id}/analyses/{swing.kept.number}"
        body = translated(to_analysed_swing(swing), told_in)
        return first_answer("swing", swing.id, location, swing.meta.version, body)

    with turn:
        return created(retries.told_in(told_in).once(b"", keep, answer), told_in)
