"""Analyses written by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from service.analysis.faults import CATALOGUE, FaultDefinition
from service.analysis.types import (
    Evidence,
    Finding,
    FootageQuality,
    Grade,
    Handedness,
    Intent,
    Judged,
    Measurement,
    Position,
    Reason,
    Source,
    Status,
    SwingAnalysis,
    View,
)

DEFINITIONS = CATALOGUE
_MEASURES = {
    c.measure.name: c.measure for d in CATALOGUE.values() for cs in d.criteria.values() for c in cs
}


def present(fault: str, grade: Grade = Grade.MODERATE, confidence: float = 0.9) -> Finding:
    """The fault was found."""
    definition = DEFINITIONS[fault]
    criteria = next(iter(definition.criteria.values()))
    evidence = tuple(
        Evidence(
            c.measure.name,
            c.measure.title,
            c.measure.unit,
            c.moderate,
            0.1 * abs(c.moderate - c.threshold),
            c.threshold,
            c.direction.value,
            c.reference,
        )
        for c in criteria
    )
    return Finding(
        fault,
        definition.title,
        Status.PRESENT,
        confidence,
        confidence,
        grade=grade,
        evidence=evidence,
    )


def absent(fault: str, confidence: float = 0.9) -> Finding:
    """The fault was looked for and not found."""
    title = DEFINITIONS[fault].title
    return Finding(fault, title, Status.ABSENT, 1.0 - confidence, confidence)


def judged_absent(fault: str, *values: float, view: View = View.FACE_ON) -> Finding:
    """The fault was not found, with a value for each of its criteria."""
    criteria = DEFINITIONS[fault].criteria[view]
    evidence = tuple(
        Evidence(
            c.measure.name,
            c.measure.title,
            c.measure.unit,
            value,
            1.0,
            c.threshold,
            c.direction.value,
            c.reference,
        )
        for c, value in zip(criteria, values, strict=True)
    )
    return replace(absent(fault), evidence=evidence)


def unseen(fault: str, code: str = "view") -> Finding:
    """The fault could not be judged."""
    reason = Reason(code, "It can't be seen from here.")
    return Finding(fault, DEFINITIONS[fault].title, Status.NOT_ASSESSABLE, reason=reason)


def others_absent(*findings: Finding) -> list[Finding]:
    """The findings and, for the rest of the catalogue, that it is absent."""
    told = {f.fault for f in findings}
    return [*findings, *(absent(name) for name in DEFINITIONS if name not in told)]


def measured(name: str, value: float | None, uncertainty: float = 1.0) -> Measurement:
    """A measurement of one of the faults' measures; ``None`` if it could not be taken."""
    measure = _MEASURES[name]
    gone = Reason("points_not_seen", "Not seen well enough for this: clubhead.")
    return Measurement(
        name,
        measure.title,
        measure.unit,
        measure.at,
        value,
        None if value is None else uncertainty,
        gone if value is None else None,
    )


def swing(
    *,
    findings: list[Finding] | None = None,
    measures: list[Measurement] | None = None,
    view: View = View.FACE_ON,
    intent: Intent = Intent.FULL_SPEED,
) -> SwingAnalysis:
    """A swing about which this much is known."""
    return SwingAnalysis(
        swing_found=True,
        reason=None,
        view=Judged(view, 1.0, given=True),
        handedness=Judged(Handedness.RIGHT, 1.0, given=True),
        quality=FootageQuality(120.0, {}),
        measures=tuple(measures or ()),
        findings=tuple(findings or ()),
        intent=intent,
    )


def no_swing() -> SwingAnalysis:
    """A clip without a swing in it."""
    return SwingAnalysis(
        swing_found=False,
        reason=Reason("no_motion", "Nobody swings in this clip."),
        view=None,
        handedness=None,
        quality=FootageQuality(120.0, {}),
    )


def judged_by(definition: FaultDefinition, view: View, value: float, u: float) -> SwingAnalysis:
    """A swing of which only the leading measure of one fault is known, and the finding."""
    criterion = definition.criteria[view][0]
    there = criterion.excess(value) > 0.0
    found = present(definition.name) if there else absent(definition.name)
    return swing(findings=[found], measures=[measured(criterion.measure.name, value, u)], view=view)


def rehearsed(swing_: SwingAnalysis) -> SwingAnalysis:
    """The same as a slow rehearsal."""
    return replace(swing_, intent=Intent.REHEARSAL)


def clocked(times_at_positions: list[float], fps: float) -> SwingAnalysis:
    """An analysis with P1 to P10 at given times, straight between."""
    clock = np.arange(0.0, times_at_positions[-1] + 0.5, 1.0 / fps)
    numbers = np.arange(1.0, 11.0)
    coordinate = np.interp(clock, times_at_positions, numbers, left=np.nan, right=np.nan)
    positions = tuple(
        Position(n, Source.OBSERVED, time=t, frame=t * fps, uncertainty=0.01, confidence=1.0)
        for n, t in enumerate(times_at_positions, start=1)
    )
    return replace(swing(), coordinate=coordinate, positions=positions, times=clock)
