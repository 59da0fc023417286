"""The route that analyses a swing and keeps nothing."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from service.api.http.bodies.body import SentBody
from service.api.http.dependencies import ClipBody, analyser_of, turns_of
from service.api.http.languages import AskedLanguage, of_language
from service.api.schemas.analysis import SwingAnswer, to_answer
from service.api.schemas.translation import translated
from service.languages import Language
from service.use_cases.analyse import Analyser

router = APIRouter(prefix="/v1/swings", tags=["swings"])


@router.post("/analyze", summary="Find the faults of one swing", response_model=SwingAnswer)
async def analyze_swing(request: Request, body: ClipBody, told_in: AskedLanguage) -> Response:
    """Find the swing in a clip of pose keypoints, its positions P1 to P10, and its faults.

    A clip without a golf swing is answered with 200 and `swing_found: false`, with the
    reason: the request was fine, and that is the answer to it. The body may be gzipped,
    with `Content-Encoding: gzip`. With `?lang=de` titles, reasons and remarks are in German;
    names and codes stay.
    """
    analyser = analyser_of(request)
    text = await turns_of(request).run(lambda: _answer(analyser, body, told_in))
    # As text already, or the framework would check it once more, in a thread of its own.
    return Response(text, media_type="application/json", headers=of_language(told_in))


def _answer(analyser: Analyser, body: SentBody, told_in: Language) -> str:
    clip = analyser.analyse_body(body.text())
    return translated(to_answer(clip.analysis, clip.reference), told_in).model_dump_json()
