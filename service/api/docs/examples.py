"""Worked examples for the contract, made by the code that they illustrate.

Requests here are as short as the service takes, so that they can be read and tried; a
whole swing is too long to print in a contract.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np

from service.analysis.faults import CATALOGUE, FaultDefinition
from service.analysis.types import (
    Evidence,
    Finding,
    FootageQuality,
    Grade,
    Handedness,
    Judged,
    Level,
    Moment,
    Position,
    Reason,
    Remark,
    Source,
    Status,
    SwingAnalysis,
    SwingSpan,
    View,
)
from service.api.problems.details import ProblemError, to_problem
from service.api.problems.kinds import INVALID_REQUEST, MALFORMED_JSON, ProblemKind
from service.api.schemas.analysis import to_answer
from service.intake.recording import Limits, to_recording
from service.intake.request import SwingRequest, read_request

ANALYZE_PATH: Final[str] = "/v1/swings/analyze"

_FRAMES = 12
_LIMITS = Limits(min_frames=_FRAMES, max_frames=_FRAMES)

PIXELS: Final[dict[str, object]] = {
    "layout": ["nose", "left_wrist", "right_wrist"],
    "fps": 60,
    "view": "face_on",
    "handedness": "right",
    "client_reference": "lesson 12, swing 3",
    "keypoints": [[[640, 210], [612, 480], [650, 470]] for _ in range(_FRAMES)],
}
NORMALISED_SLOW_MOTION: Final[dict[str, object]] = {
    "layout": ["nose", None, "right_wrist"],
    "timestamps": [round(i / 30, 4) for i in range(_FRAMES)],
    "playback_speed": 0.25,
    "coordinates": "normalised",
    "image_size": {"width": 1080, "height": 1920},
    "keypoints": [[[0.5, 0.2, 0.98], None, [0.48, 0.5, 0.7]] for _ in range(_FRAMES)],
}
WITH_CLUB: Final[dict[str, object]] = {
    **PIXELS,
    "club": "mid_iron",
    "intent": "rehearsal",
    "club_points": {
        "grip": [[630, 475] for _ in range(_FRAMES)],
        "clubhead": [[600, 760, 0.6], *[None] * (_FRAMES - 1)],
    },
}
BROKEN: Final[dict[str, object]] = {
    **PIXELS,
    "timestamps": [0.0],
    "keypoints": [[[640, 210], [612, 480, 1.7], ["650", 470]]] + [[None] * 3] * (_FRAMES - 1),
}

REQUESTS: Final[dict[str, tuple[str, dict[str, object]]]] = {
    "pixels": ("Pixels at 60 frames a second", PIXELS),
    "normalised_slow_motion": (
        "Normalised coordinates with confidence, four times slowed down",
        NORMALISED_SLOW_MOTION,
    ),
    "with_club": ("A rehearsal with points of the club", WITH_CLUB),
}


def problem(kind: ProblemKind) -> dict[str, object]:
    """An answer with one kind of problem."""
    if kind is INVALID_REQUEST:
        return _problem_of(lambda: to_recording(_read(BROKEN), _LIMITS))
    if kind is MALFORMED_JSON:
        return _problem_of(lambda: read_request(b'{"keypoints": [[[1.0, '))
    return _told(ProblemError(kind, kind.meaning))


def no_swing() -> dict[str, object]:
    """The answer to a clip without a swing."""
    return _answer(
        SwingAnalysis(
            swing_found=False,
            reason=Reason("no_downswing", "The hands never move as they do in a golf swing."),
            view=Judged(View.FACE_ON, 1.0, given=True),
            handedness=Judged(Handedness.RIGHT, 1.0, given=True),
            quality=_quality(),
        )
    )


def swing_found() -> dict[str, object]:
    """An answer cut down to a few entries a list, with made-up numbers."""
    return _answer(
        SwingAnalysis(
            swing_found=True,
            reason=None,
            view=Judged(View.FACE_ON, 1.0, given=True),
            handedness=Judged(Handedness.RIGHT, 0.97, given=False),
            quality=_quality(),
            swings=(SwingSpan(2, 10, 0.0333, 0.1667, analysed=True),),
            positions=_positions(),
            coordinate=np.array([np.nan, np.nan, *np.linspace(1.0, 10.0, 9), np.nan]),
            findings=_findings(),
        )
    )


def _positions() -> tuple[Position, ...]:
    unseen = Reason("not_reached", "The clip ends before the finish.")
    return (
        Position(1, Source.OBSERVED, 0.0333, 2.0, 0.004, 0.98),
        Position(4, Source.INFERRED, 0.0833, 5.0, 0.012, 0.71),
        Position(10, Source.NOT_FOUND, reason=unseen),
    )


def _findings() -> tuple[Finding, ...]:
    """One of each status, for the first faults of the catalogue."""
    makers = (_present, _absent, _not_assessable)
    return tuple(make(fault) for make, fault in zip(makers, CATALOGUE.values(), strict=False))


def _present(fault: FaultDefinition) -> Finding:
    criterion = next(iter(fault.criteria.values()))[0]
    measure = criterion.measure
    about = criterion.moderate - criterion.grey, criterion.moderate + criterion.grey
    value = max(about, key=criterion.excess)
    moment = Moment(frame=6, time=0.1, position=5.5)
    evidence = Evidence(
        measure=measure.name,
        title=measure.title,
        unit=measure.unit,
        value=value,
        uncertainty=criterion.grey / 2,
        threshold=criterion.threshold,
        direction=criterion.direction,
        reference=criterion.reference,
        note=criterion.note,
    )
    return Finding(
        fault=fault.name,
        title=fault.title,
        status=Status.PRESENT,
        score=0.96,
        confidence=0.91,
        severity=value,
        severity_unit=measure.unit,
        grade=Grade.MODERATE,
        shows_most=moment,
        span=(moment, Moment(frame=7, time=0.1167, position=6.625)),
        evidence=(evidence,),
    )


def _absent(fault: FaultDefinition) -> Finding:
    return Finding(fault.name, fault.title, Status.ABSENT, score=0.03, confidence=0.95)


def _not_assessable(fault: FaultDefinition) -> Finding:
    reason = Reason("points_not_seen", "Points that it needs are not in the clip.")
    return Finding(fault.name, fault.title, Status.NOT_ASSESSABLE, reason=reason)


def _quality() -> FootageQuality:
    remark = Remark(
        "feet_not_seen",
        Level.WARNING,
        "The layout has no heels or toes.",
        "Use a pose estimator that finds the feet.",
    )
    return FootageQuality(60.0, {"nose": 1.0, "left_wrist": 0.92}, (remark,))


def _answer(analysis: SwingAnalysis) -> dict[str, object]:
    clocked = replace(analysis, times=np.arange(_FRAMES) / 60)
    return to_answer(clocked, _read(PIXELS).client_reference).model_dump(mode="json")


def _read(request: dict[str, object]) -> SwingRequest:
    return read_request(json.dumps(request).encode())


def _problem_of(attempt: Callable[[], object]) -> dict[str, object]:
    try:
        attempt()
    except ValueError as error:
        return _told(error)
    raise AssertionError("the example of a problem is none")


def _told(error: Exception) -> dict[str, object]:
    told: dict[str, object] = json.loads(to_problem(error, ANALYZE_PATH).body())
    return told
