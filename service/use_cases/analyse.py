"""A request analysed: the one way in for HTTP, the command line and the examples."""

from __future__ import annotations

from dataclasses import dataclass

from service.analysis.analyse import analyse
from service.analysis.types import SwingAnalysis, SwingRecording
from service.intake.recording import Limits, to_recording
from service.intake.request import SwingRequest, read_request
from service.use_cases.model import served_model


@dataclass(frozen=True)
class AnalysedSwing:
    """A request, the recording it became and what was found in it."""

    request: SwingRequest
    recording: SwingRecording
    analysis: SwingAnalysis


def analyse_body(body: bytes, limits: Limits) -> AnalysedSwing:
    """Analyse a request given as JSON text.

    Raises
    ------
    MalformedJson, InvalidRequest
        When the request can't be read (see :mod:`service.intake.errors`).
    """
    request = read_request(body)
    recording = to_recording(request, limits)
    return AnalysedSwing(request, recording, analyse(recording, served_model()))
