"""An analysis as plain text, for a terminal of 100 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

from service.analysis.faults import CATALOGUE
from service.analysis.types import (
    Evidence,
    Finding,
    FootageQuality,
    Handedness,
    Judged,
    Position,
    Remark,
    Status,
    SwingAnalysis,
    View,
)
from service.lessons.telling.wording import IN_ENGLISH, PLACES, Wording

WIDTH: Final[int] = 100
_NONE = "-"
_GAP = "  "
_POSITION_ROW = "{:<8}  {:<9}  {:>7}  {:>6}  {:>7}  {:>10}  {}"
SUREST: Final[float] = 0.99
"""No confidence is written as if nothing could be otherwise."""


def swing_table(analysis: SwingAnalysis) -> str:
    """The whole analysis: what was found, positions, findings, remarks on the footage, cautions.

    No line is longer than :data:`WIDTH`; long sentences wrap.
    """
    sections = [_summary(analysis)]
    if analysis.swing_found:
        sections += [_positions(analysis.positions), _findings(analysis.findings)]
    sections.append(_quality(analysis.quality))
    if any(_advised(finding) for finding in analysis.findings):
        sections.append(_cautions(analysis.findings))
    return "\n\n".join("\n".join(section) for section in sections) + "\n"


def _summary(analysis: SwingAnalysis) -> list[str]:
    if not analysis.swing_found:
        reason = analysis.reason.text if analysis.reason else ""
        return _wrapped(f"No golf swing found. {reason}", "")
    return [
        f"View: {_judged(analysis.view)}",
        f"Handedness: {_judged(analysis.handedness)}",
        *(
            f"Swing: frames {span.first_frame} to {span.last_frame}, "
            f"{span.start:.2f} s to {span.end:.2f} s{'' if span.analysed else ' (not analysed)'}"
            for span in analysis.swings
        ),
    ]


def _judged(judged: Judged[View] | Judged[Handedness] | None) -> str:
    if judged is None:
        return "not known"
    how = "given" if judged.given else f"inferred, confidence {judged.confidence:.2f}"
    return f"{_words(str(judged.value))} ({how})"


def _positions(positions: Sequence[Position]) -> list[str]:
    lines = [
        _POSITION_ROW.format(
            "Position", "Source", "Time s", "±", "Frame", "Confidence", ""
        ).rstrip()
    ]
    for position in positions:
        lines.append(_position(position))
        if position.reason is not None:
            lines += _wrapped(position.reason.text, "          ")
    return lines


def _position(position: Position) -> str:
    return _POSITION_ROW.format(
        position.name,
        _words(position.source),
        _number(position.time, 3),
        _number(position.uncertainty, 3),
        _number(position.frame, 1),
        _number(min(position.confidence, SUREST), 2),
        PLACES[position.number],
    )


def _findings(findings: Sequence[Finding]) -> list[str]:
    """What is there first, what is not after it, and at the end what could not be judged."""
    judged = [f for f in findings if f.status is not Status.NOT_ASSESSABLE]
    width = max((len(finding.title) for finding in judged), default=len("Fault"))
    lines = [_finding_row("Fault", "Status", "Conf.", "Grade", "Severity", width)]
    for status in (Status.PRESENT, Status.UNCERTAIN, Status.ABSENT):
        for finding in judged:
            if finding.status is status:
                lines += _finding(finding, width)
    return lines + _not_judged([f for f in findings if f not in judged])


def _finding_row(
    title: str, status: str, confidence: str, grade: str, severity: str, width: int
) -> str:
    cells = (f"{title:<{width}}", f"{status:<9}", f"{confidence:>5}", f"{grade:<8}", severity)
    return _GAP.join(cells).rstrip()


def _finding(finding: Finding, width: int) -> list[str]:
    row = _finding_row(
        finding.title,
        _words(finding.status),
        _number(finding.confidence, 2),
        finding.grade or _NONE,
        _severity(finding),
        width,
    )
    return [row, *(line for told in _explanation(finding) for line in _wrapped(told, _GAP))]


def _explanation(finding: Finding) -> list[str]:
    """Of a present fault where it shows, by what, what often lies behind it and what to do."""
    if finding.status is Status.UNCERTAIN:
        return [f"Too close to call: chance {_number(finding.chance, 2)}"]
    if finding.status is not Status.PRESENT:
        return []
    moment = finding.shows_most
    told = [*map(_sentence, finding.evidence), *advice(finding)]
    if moment is not None:
        at = f"P{moment.position:.1f}, frame {moment.frame}, {moment.time:.2f} s"
        told.insert(0, f"Shows most at {at}")
    return told


def advice(finding: Finding, wording: Wording = IN_ENGLISH) -> tuple[str, ...]:
    """Of a present fault what often lies behind it and what to try; cautions belong beside it."""
    if not _advised(finding):
        return ()
    definition, say = CATALOGUE[finding.fault], wording.say
    return (
        say("Often behind it: {causes}", causes=" ".join(map(say, definition.causes))),
        say("Try this: {checkpoint}", checkpoint=say(definition.checkpoint)),
    )


def _sentence(evidence: Evidence) -> str:
    return (
        f"{evidence.title}: {evidence.value:.3g} ± {evidence.uncertainty:.2g} {evidence.unit}, "
        f"a fault {evidence.direction} {evidence.threshold:g} ({evidence.reference})"
    )


def _not_judged(findings: Sequence[Finding]) -> list[str]:
    """Each reason once, with the faults that could not be judged for it."""
    by_reason: dict[str, list[str]] = {}
    for finding in findings:
        by_reason.setdefault(finding.reason.text if finding.reason else "", []).append(
            finding.title
        )
    lines = ["", "Not assessable"] if findings else []
    for reason, titles in by_reason.items():
        lines += [*_wrapped(reason, _GAP), *_wrapped("; ".join(titles), 2 * _GAP)]
    return lines


def _cautions(findings: Sequence[Finding]) -> list[str]:
    """What goes with the advice, each once."""
    found = [CATALOGUE[f.fault] for f in findings if _advised(f)]
    told = list(dict.fromkeys(caution for fault in found for caution in fault.cautions))
    return ["Before you work on any of this:", *(f"{_GAP}{caution}" for caution in told)]


def _advised(finding: Finding) -> bool:
    return finding.status is Status.PRESENT and finding.fault in CATALOGUE


def _severity(finding: Finding) -> str:
    if finding.severity is None:
        return _NONE
    return f"{finding.severity:.3g} {finding.severity_unit or ''}".rstrip()


def _quality(quality: FootageQuality) -> list[str]:
    lines = [f"Footage: {quality.frame_rate:.4g} frames a second"]
    return lines + [line for remark in quality.remarks for line in _remark(remark)]


def _remark(remark: Remark) -> list[str]:
    return _wrapped(f"{remark.level}: {remark.text} {remark.fix}", _GAP)


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(
        text.strip(), WIDTH, initial_indent=indent, subsequent_indent=indent + _GAP
    )


def _number(value: float | None, digits: int) -> str:
    return _NONE if value is None else f"{value:.{digits}f}"


def _words(name: str) -> str:
    return name.replace("_", " ")
