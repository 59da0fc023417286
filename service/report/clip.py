"""What a picture needs."""

from __future__ import annotations

from dataclasses import dataclass

from service.analysis.types import SwingAnalysis, SwingRecording


@dataclass(frozen=True)
class Clip:
    """A clip with what was found in it.

    ``reference`` is what the client calls it, ``None`` where it has no name.
    """

    reference: str | None
    recording: SwingRecording
    analysis: SwingAnalysis
