"""An analysis as plain text, for a terminal of 100 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

from service.analysis.types import (
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

WIDTH: Final[int] = 100
_NONE = "-"
_GAP = "  "
_POSITION_ROW = "{:<8}  {:<9}  {:>7}  {:>6}  {:>7}  {:>10}"


def swing_table(analysis: SwingAnalysis) -> str:
    """The whole analysis: what was found, positions, findings and remarks on the footage.

    No line is longer than :data:`WIDTH`; long sentences wrap.
    """
    sections = [_summary(analysis)]
    if analysis.swing_found:
        sections += [_positions(analysis.positions), _findings(analysis.findings)]
    sections.append(_quality(analysis.quality))
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
    lines = [_POSITION_ROW.format("Position", "Source", "Time s", "±", "Frame", "Confidence")]
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
        _number(position.confidence, 2),
    )


def _findings(findings: Sequence[Finding]) -> list[str]:
    width = max((len(finding.title) for finding in findings), default=0)
    header = _finding_row("Fault", "Status", "Conf.", "Grade", "Severity", width)
    return [header, *(line for finding in findings for line in _finding(finding, width))]


def _finding_row(
    title: str, status: str, confidence: str, grade: str, severity: str, width: int
) -> str:
    cells = (f"{title:<{width}}", f"{status:<14}", f"{confidence:>5}", f"{grade:<8}", severity)
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
    return [row, *_wrapped(_explanation(finding), _GAP)]


def _explanation(finding: Finding) -> str:
    """Why it can't be told, or where a present fault shows; may be empty."""
    if finding.reason is not None:
        return finding.reason.text
    told = []
    moment = finding.shows_most
    if finding.status is Status.UNCERTAIN:
        told.append(f"too close to call: chance {_number(finding.chance, 2)}")
    if finding.status is Status.PRESENT and moment is not None:
        at = f"P{moment.position:.1f}, frame {moment.frame}, {moment.time:.2f} s"
        told.append(f"shows most at {at}")
    return "; ".join(told)


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
