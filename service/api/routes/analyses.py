"""The route that analyses a swing and keeps nothing."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from service.api.http.dependencies import ClipBody, analyser_of, turn_of
from service.api.http.languages import AskedLanguage, of_language
from service.api.schemas.analysis import SwingAnswer, to_answer
from service.api.schemas.told import told

router = APIRouter(prefix="/v1/swings", tags=["swings"])


@router.post("/analyze", summary="Find the faults of one swing", response_model=SwingAnswer)
def analyze_swing(request: Request, body: ClipBody, told_in: AskedLanguage) -> Response:
    """Find the swing in a clip of pose keypoints, its positions P1 to P10, and its faults.

    A clip without a golf swing is answered with 200 and `swing_found: false`, with the
    reason: the request was fine, and that is the answer to it. The body may be gzipped,
    with `Content-Encoding: gzip`. With `?lang=de` titles, reasons and remarks are in German;
    names and codes stay.
    """
    with turn_of(request):
        clip = analyser_of(request).analyse_body(body.text())
        answer = told(to_answer(clip.analysis, clip.reference), told_in)
        # As text already, or the framework would check it once more, in a thread of its own.
        text = answer.model_dump_json()
        return Response(text, media_type="application/json", headers=of_language(told_in))
