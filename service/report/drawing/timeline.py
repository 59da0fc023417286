"""The strip that shows when in the swing something was seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from service.analysis.types import Finding, Position, Source
from service.report.drawing.svg import INK, LEAD, MARK, MUTED, PANEL, add, badge, lines, write

_MARGIN = 14.0
_LABELS = 300.0
_ROW = 26.0
_TOP = 72.0
_LEAST_GAP = 24.0
_LANES = (44.0, 30.0, 16.0)
"""Baselines of the position names, which dodge each other coming down, where they crowd."""


@dataclass(frozen=True)
class _Axis:
    """Times to places right of the column with the faults' names."""

    start: float
    end: float
    width: float

    def x(self, time: float) -> float:
        left, right = _LABELS + _MARGIN, self.width - 2 * _MARGIN
        return left + (right - left) * (time - self.start) / max(self.end - self.start, 1e-9)


def timeline_height(findings: Sequence[Finding]) -> float:
    """Height of the strip for some findings."""
    return _TOP + _ROW * len(findings) + _MARGIN


def draw_timeline(
    parent: Element, positions: Sequence[Position], findings: Sequence[Finding], width: float
) -> None:
    """Draw P1 to P10 along a time line and, below, a row for every finding.

    Positions that were not found are left out; at least one must be there. A finding's
    bar runs over the time in which it shows, its badge sits where it shows most.
    """
    found = [(p, p.time) for p in positions if p.time is not None]
    axis = _Axis(found[0][1], found[-1][1], width)
    height = timeline_height(findings)
    add(parent, "rect", width=width, height=height, rx=6, fill=PANEL)
    write(parent, _MARGIN, 28, "Positions over time", font_weight="bold")
    length = f"{axis.end - axis.start:.2f} s from {found[0][0].name} to {found[-1][0].name}"
    if any(position.source is Source.INFERRED for position, _ in found):
        length += "; dashed: inferred"
    write(parent, _MARGIN, 46, length, fill=MUTED, font_size=12)
    base = _TOP - 16
    lines(parent, [((axis.x(axis.start), base), (axis.x(axis.end), base))], stroke=INK)
    _draw_positions(parent, found, axis, base, height)
    for row, finding in enumerate(findings):
        _draw_finding(parent, finding, str(row + 1), axis, _TOP + _ROW * (row + 0.5))


def _draw_positions(
    parent: Element,
    found: Sequence[tuple[Position, float]],
    axis: _Axis,
    base: float,
    height: float,
) -> None:
    last = [-_LEAST_GAP] * len(_LANES)
    for position, time in found:
        x = axis.x(time)
        lane = next((i for i, right in enumerate(last) if x - right >= _LEAST_GAP), 0)
        last[lane] = x
        observed = position.source is Source.OBSERVED
        dashes = "none" if observed else "3 3"
        lines(
            parent,
            [((x, base - 6), (x, height - _MARGIN))],
            stroke=LEAD,
            stroke_width=1,
            stroke_dasharray=dashes,
        )
        write(
            parent,
            x,
            _LANES[lane],
            position.name,
            text_anchor="middle",
            font_size=12,
            font_style="normal" if observed else "italic",
        )


def _draw_finding(parent: Element, finding: Finding, number: str, axis: _Axis, y: float) -> None:
    badge(parent, _MARGIN + 10, y, number)
    write(parent, _MARGIN + 28, y + 4, finding.title, font_size=12)
    if finding.span is not None:
        start, end = (axis.x(moment.time) for moment in finding.span)
        add(parent, "rect", x=start, y=y - 3, width=end - start, height=6, rx=3, fill=MARK)
    if finding.shows_most is not None:
        badge(parent, axis.x(finding.shows_most.time), y, number)
