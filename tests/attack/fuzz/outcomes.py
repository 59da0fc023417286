"""What becomes of a bent request, and what may not."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from service.api.http.bodies.gzip_bodies import gunzip
from service.api.problems.details import ProblemError
from service.api.schemas.analysis import to_answer
from service.intake.errors import InvalidRequest, MalformedJson, TooLarge
from service.use_cases.analyse import Analyser

FOUND: Final = Path(__file__).parent / "found"
"""Bodies that once failed, as they were sent: ``.gz`` with ``Content-Encoding: gzip``."""
_LIMIT: Final[int] = 16 * 1024 * 1024


class Failed(Exception):
    """The case was neither answered nor refused as it should be."""


def outcome(analyser: Analyser, body: bytes, gzipped: bool) -> str:
    """What became of a case, in a word.

    Raises
    ------
    Exception
        Anything but a refusal in words.
    """
    try:
        clip = analyser.analyse_body(gunzip(body, _LIMIT) if gzipped else body)
    except (InvalidRequest, MalformedJson, TooLarge, ProblemError) as refused:
        return type(refused).__name__
    answer = to_answer(clip.analysis, clip.reference).model_dump_json()
    json.loads(answer, parse_constant=_no_number)
    _check(clip.analysis)
    return "a swing" if clip.analysis.swing_found else "no swing"


def _no_number(name: str) -> None:
    raise Failed(f"the answer holds {name}")


def _check(analysis: Any) -> None:
    for finding in analysis.findings:
        confidence = finding.confidence
        if confidence is not None and not 0.0 < confidence < 1.0:
            raise Failed(f"a confidence of {confidence} in {finding.fault}")
    frames = [p.frame for p in analysis.positions if p.frame is not None]
    if any(not 0 <= frame <= analysis.times.size - 1 for frame in frames):
        raise Failed("a position outside the clip")
