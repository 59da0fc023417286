"""Routes of lessons."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response
from fastapi.responses import StreamingResponse

from service.api.http.bodies.body import NDJSON
from service.api.http.conditional import ExpectedVersions, RequiredVersions, tag
from service.api.http.dependencies import (
    ClipBody,
    CurrentSettings,
    JsonLines,
    Records,
    ServedAnalyser,
    Turn,
)
from service.api.http.languages import AcceptedLanguage
from service.api.http.retries import Also, MayBeRetry, created, first_answer
from service.api.schemas.many.batch import LineAnswer, to_lines
from service.api.schemas.records.records import (
    AnalysedSwingAnswer,
    KeptSwingAnswer,
    LessonAnswer,
    to_analysed_swing,
)
from service.api.schemas.records.requests import (
    LessonChangesBody,
    RecordId,
    SwingFactsQuery,
    ToldSwingFactsQuery,
    changes_of,
)
from service.api.schemas.translation import translated
from service.languages import language
from service.records import KeptSwing
from service.records.keeping import lessons
from service.records.keeping.retries import FirstAnswer
from service.use_cases.keep import KeepSwing, forget_lesson, keep_swing
from service.use_cases.keep_many import keep_lines

router = APIRouter(prefix="/v1/lessons", tags=["lessons"])


@router.get("/{lesson_id:uuid}", summary="One lesson")
def get_lesson(lesson_id: RecordId, records: Records, response: Response) -> LessonAnswer:
    """Give one lesson, with the ETag that a change needs."""
    with records.reading() as session:
        lesson = lessons.get(session, lesson_id)
    tag(response, lesson.version)
    return LessonAnswer.model_validate(lesson)


@router.patch("/{lesson_id:uuid}", summary="Change a lesson")
def change_lesson(
    lesson_id: RecordId,
    changes: LessonChangesBody,
    expected: RequiredVersions,
    records: Records,
    response: Response,
) -> LessonAnswer:
    """Change some fields of a lesson, such as the coach's note.

    `If-Match` says which version the change is for.
    """
    with records.writing() as session:
        lesson = lessons.change(session, lesson_id, changes_of(changes), expected)
    records.forget_deleted()  # the values before
    tag(response, lesson.version)
    return LessonAnswer.model_validate(lesson)


@router.delete("/{lesson_id:uuid}", status_code=204, summary="Delete a lesson with its swings")
def delete_lesson(lesson_id: RecordId, expected: ExpectedVersions, records: Records) -> None:
    """Delete a lesson with its swings and all that was found in them."""
    forget_lesson(records, lesson_id, expected)


@router.post(
    "/{lesson_id:uuid}/swings",
    status_code=201,
    summary="Analyse a swing and keep it",
    response_model=AnalysedSwingAnswer,
)
def create_swing(
    lesson_id: RecordId,
    body: ClipBody,
    facts: ToldSwingFactsQuery,
    accepted: AcceptedLanguage,
    records: Records,
    analyser: ServedAnalyser,
    turn: Turn,
    retries: MayBeRetry,
) -> Response:
    """Analyse a swing as `/v1/swings/analyze` does, and keep it with what was found.

    The keypoints are kept as they were sent, so that the swing can be analysed again.
    """
    told_in = language(facts.lang) if facts.lang else accepted

    def answer(swing: KeptSwing) -> FirstAnswer:
        body = translated(to_analysed_swing(swing), told_in)
        return first_answer("swing", swing.id, f"/v1/swings/{swing.id}", swing.meta.version, body)

    with turn:
        text = body.text()
        wanted = KeepSwing(lesson_id, text, facts.role, facts.recorded_at)

        def keep(also: Also[KeptSwing]) -> KeptSwing:
            return keep_swing(records, analyser, wanted, also)

        return created(retries.told_in(told_in).once(text, keep, answer), told_in)


@router.post(
    "/{lesson_id:uuid}/swings/batch",
    summary="Analyse many swings and keep them",
    response_class=StreamingResponse,
    responses={
        200: {
            "description": "A line of JSON for each line that was sent, in their order, as soon "
            "as it is done: the swing that is kept, or a problem.",
            "content": {
                NDJSON: {"schema": {"$ref": f"#/components/schemas/{LineAnswer.__name__}"}}
            },
        }
    },
)
def create_swings(
    lesson_id: RecordId,
    lines: JsonLines,
    facts: SwingFactsQuery,
    records: Records,
    settings: CurrentSettings,
    analyser: ServedAnalyser,
    turn: Turn,
    retries: MayBeRetry,
    request: Request,
) -> StreamingResponse:
    """Analyse and keep many swings, one a line, and answer each with a line as it is done.

    Every line stands for itself: one that is refused keeps none of the others from being
    kept. Role and time hold for all of them. With an `Idempotency-Key` a batch that broke off
    can be sent again: lines that were kept are answered as they were, the others are done.
    """
    with records.reading() as session:
        lessons.get(session, lesson_id)

    def keep(number: int, line: bytes) -> KeptSwingAnswer:
        wanted = KeepSwing(lesson_id, line, facts.role, facts.recorded_at)

        def keep_it(also: Also[KeptSwing]) -> KeptSwing:
            return keep_swing(records, analyser, wanted, also)

        with turn:
            first = retries.line(number).once(line.strip(), keep_it, _first_answer_in_line)
        return KeptSwingAnswer.model_validate_json(first.body)

    kept = keep_lines(lines, settings.max_body_bytes, keep)
    return StreamingResponse(to_lines(kept, request.url.path), media_type=NDJSON)


def _first_answer_in_line(swing: KeptSwing) -> FirstAnswer:
    answer = KeptSwingAnswer.model_validate(swing.meta)
    return first_answer("swing", swing.id, f"/v1/swings/{swing.id}", swing.meta.version, answer)
