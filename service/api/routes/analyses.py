"""The route that analyses a swing and keeps nothing."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.http.dependencies import ClipBody, ServedAnalyser, Turn
from service.api.schemas.analysis import SwingAnswer, to_answer

router = APIRouter(prefix="/v1/swings", tags=["swings"])


@router.post("/analyze", summary="Find the faults of one swing", response_model=SwingAnswer)
def analyze_swing(body: ClipBody, analyser: ServedAnalyser, turn: Turn) -> Response:
    """Find the swing in a clip of pose keypoints, its positions P1 to P10, and its faults.

    A clip without a golf swing is answered with 200 and `swing_found: false`, with the
    reason: the request was fine, and that is the answer to it. The body may be gzipped,
    with `Content-Encoding: gzip`.
    """
    with turn:
        clip = analyser.analyse_body(body.text())
        answer = to_answer(clip.analysis, clip.reference)
        # As text already, or the framework would check it once more, in a thread of its own.
        return Response(answer.model_dump_json(), media_type="application/json")
