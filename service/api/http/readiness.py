"""Whether this instance can do its work, found out by doing a little of it."""

from __future__ import annotations

import logging

import numpy as np
from pydantic import BaseModel, Field

from service.analysis import faults
from service.analysis.pose.points import N_POINTS
from service.analysis.types import SwingRecording
from service.use_cases.analyse import Analyser

_log = logging.getLogger(__name__)
_FRAMES = 30


class Check(BaseModel):
    """One thing that must work."""

    name: str
    passed: bool
    detail: str = Field(description="What was found.")


def run_checks(analyser: Analyser) -> list[Check]:
    """Check the catalogue and the analysis; a failure is told, not raised."""
    return [_check_catalogue(), _check_analysis(analyser)]


def _check_catalogue() -> Check:
    count = len(faults.CATALOGUE)
    return Check(name="catalogue", passed=count > 0, detail=f"{count} faults")


def _check_analysis(analyser: Analyser) -> Check:
    try:
        found = analyser.analyse(_still_figure()).swing_found
    except Exception as error:
        _log.exception("the analysis failed its check")
        return Check(name="analysis", passed=False, detail=type(error).__name__)
    return Check(
        name="analysis",
        passed=not found,
        detail="a swing in a still figure" if found else "no swing in a still figure",
    )


def _still_figure() -> SwingRecording:
    """All points at rest, spread over the image so that no length is zero."""
    index = np.arange(N_POINTS)
    pose = np.stack([100.0 + 7.0 * (index % 5), 50.0 + 10.0 * index], axis=-1)
    return SwingRecording(
        points=np.tile(pose, (_FRAMES, 1, 1)),
        confidence=np.ones((_FRAMES, N_POINTS)),
        times=np.arange(_FRAMES) / 30.0,
    )
