"""The positions of one swing as a strip of small figures along its time line."""

from __future__ import annotations

from typing import Final
from xml.etree.ElementTree import Element

from service.analysis.types import Position, Source
from service.report.clip import Clip
from service.report.drawing.figure import Scene, draw_figure
from service.report.drawing.svg import (
    FAINT,
    INK,
    LEAD,
    MUTED,
    PANEL,
    add,
    as_text,
    lines,
    picture,
    wrap,
    write,
)
from service.report.frames import body_scene, frame_of

_WIDTH = 420.0
_MARGIN = 8.0
_COLUMNS: Final[int] = 5
_COLUMN = (_WIDTH - 2 * _MARGIN) / _COLUMNS
_FIGURE = 104.0
_LABEL = 64.0
_NAME_SIZE, _NAME_LINE = 11, 13.0
_FAN = 44.0
"""Room between a row and the time line, in which the leaders fan out."""
_AXIS = _MARGIN + _FIGURE + _LABEL + _FAN
_HEIGHT = 2 * _AXIS
_SHRUNK = 0.5
_NAMES: Final[dict[int, str]] = {
    1: "address",
    2: "shaft level, going back",
    3: "lead arm level, back",
    4: "top",
    5: "lead arm level, down",
    6: "shaft level, down",
    7: "impact",
    8: "shaft level, after",
    9: "trail arm level, after",
    10: "finish",
}
"""Names short enough for a column."""


def draw_strip(clip: Clip) -> str:
    """Draw P1 to P10 of a swing, five above and five below a time line.

    Under each stands its plain name. A leader joins every figure to its moment. Positions that
    were not found say so, inferred
    ones have a dashed leader and ``≈`` before their time. At least one was found.

    Returns
    -------
    str
        A self-contained SVG picture, 420 wide.
    """
    analysis = clip.analysis
    found = [(p, p.time) for p in analysis.positions if p.time is not None]
    frames = [frame_of(analysis, p.number) for p, _ in found]
    scene = body_scene(clip, frames, (_COLUMN - 4) / _SHRUNK, _FIGURE / _SHRUNK)
    told = "; ".join(f"{p.name} {_when(p)}" for p in analysis.positions)
    root = picture(_WIDTH, _HEIGHT, "P1 to P10 along the time line", f"{told}.")
    start, end = found[0][1], found[-1][1]
    for position in analysis.positions:
        _draw_position(root, position, clip, scene)
        if position.time is not None:
            share = (position.time - start) / max(end - start, 1e-9)
            _draw_leader(root, position, 2 * _MARGIN + share * (_WIDTH - 4 * _MARGIN))
    ends = ((2 * _MARGIN, _AXIS), (_WIDTH - 2 * _MARGIN, _AXIS))
    lines(root, [ends], stroke=INK, stroke_width=2)
    return as_text(root)


def _place(position: Position) -> tuple[float, bool]:
    """Left edge of a position's column, and whether it is above the time line."""
    row, column = divmod(position.number - 1, _COLUMNS)
    return _MARGIN + column * _COLUMN, row == 0


def _draw_position(root: Element, position: Position, clip: Clip, scene: Scene) -> None:
    x, above = _place(position)
    top = _MARGIN if above else _HEIGHT - _MARGIN - _FIGURE
    figure = add(root, "svg", x=x + 2, y=top, width=_COLUMN - 4, height=_FIGURE)
    add(figure, "rect", width=_COLUMN - 4, height=_FIGURE, fill=PANEL)
    if position.time is not None:
        small = add(figure, "g", transform=f"scale({_SHRUNK})")
        draw_figure(small, scene.pose(frame_of(clip.analysis, position.number)), scene.head)
    label = top + _FIGURE if above else top - _LABEL
    middle = x + _COLUMN / 2
    write(root, middle, label + 15, position.name, font_weight="bold", text_anchor="middle")
    for row, line in enumerate(wrap(_NAMES[position.number], _COLUMN, _NAME_SIZE)):
        y = label + 29 + _NAME_LINE * row
        write(root, middle, y, line, font_size=_NAME_SIZE, text_anchor="middle")
    write(
        root,
        middle,
        label + 56,
        _when(position),
        font_size=_NAME_SIZE,
        fill=MUTED,
        text_anchor="middle",
    )


def _draw_leader(root: Element, position: Position, x: float) -> None:
    left, above = _place(position)
    away = -_FAN + 4 if above else _FAN - 4
    lines(
        root,
        [((x, _AXIS), (left + _COLUMN / 2, _AXIS + away))],
        stroke=FAINT,
        stroke_width=1.5,
        stroke_dasharray="none" if position.source is Source.OBSERVED else "3 3",
    )
    add(root, "circle", cx=x, cy=_AXIS, r=4, fill=LEAD)


def _when(position: Position) -> str:
    if position.time is None:
        return "not found"
    about = "≈ " if position.source is Source.INFERRED else ""
    return f"{about}{position.time:.2f} s"
