"""The positions of one swing as a strip of small figures with their plain names."""

from __future__ import annotations

from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.analysis.types import FloatArray, Position, Source
from service.languages import sayable
from service.lessons.words.wording import IN_ENGLISH, Wording
from service.report.clip import Clip
from service.report.drawing.figure import HEAD_RADIUS, draw_figure
from service.report.drawing.svg import MUTED, PANEL, add, as_text, picture, shift, wrap, write
from service.report.pictures.poses import about_the_feet, frame_of

_WIDTH = 420.0
_MARGIN = 4.0
_COLUMNS: Final[int] = 5
_GAP = 4.0
_COLUMN = (_WIDTH - 2 * _MARGIN - (_COLUMNS - 1) * _GAP) / _COLUMNS
_LABEL = 60.0
_NAME_SIZE, _NAME_LINE = 12, 13.5
_SHRUNK = 0.5
"""Of lines and joints, which are made for larger figures."""
_INSIDE = 4.0
_NAMES: Final[dict[int, str]] = {
    1: sayable("address"),
    2: sayable("shaft level, going back"),
    3: sayable("lead arm level, back"),
    4: sayable("top"),
    5: sayable("lead arm level, down"),
    6: sayable("shaft level, down"),
    7: sayable("impact"),
    8: sayable("shaft level, after"),
    9: sayable("trail arm level, after"),
    10: sayable("finish"),
}
"""Names short enough for a column."""


def draw_strip(clip: Clip, wording: Wording = IN_ENGLISH) -> str:
    """Draw P1 to P10 of a swing in two rows, each with its plain name.

    All figures are of one size, each with the whole club in its column. Positions that were not
    found say so, inferred ones have ``≈`` before their number. At least one was found.

    Returns
    -------
    str
        A self-contained SVG picture, 420 wide.
    """
    poses = about_the_feet(clip)
    shown = {
        p.number: poses[frame_of(clip.analysis, p.number)]
        for p in clip.analysis.positions
        if p.time is not None
    }
    extents = {number: _extent(pose) for number, pose in shown.items()}
    across = max(high[0] - low[0] for low, high in extents.values())
    top, ground = min(e[0][1] for e in extents.values()), max(e[1][1] for e in extents.values())
    scale = (_COLUMN - 2 * _INSIDE) / across
    figure = scale * (ground - top) + 2 * _INSIDE
    told = "; ".join(
        f"{_number(p)} {wording.say(_NAMES[p.number])}" for p in clip.analysis.positions
    )
    title = wording.say("The positions of a swing, P1 to P10")
    root = picture(_WIDTH, 2 * (figure + _LABEL), title, f"{told}.")
    for position in clip.analysis.positions:
        row, column = divmod(position.number - 1, _COLUMNS)
        x, y = _MARGIN + column * (_COLUMN + _GAP), row * (figure + _LABEL)
        cell = add(root, "g", transform=shift(x, y))
        add(cell, "rect", width=_COLUMN, height=figure, fill=PANEL)
        if position.number in shown:
            low, high = extents[position.number]
            middle = (low[0] + high[0]) / 2
            about = np.array([middle - _COLUMN / 2 / scale, ground - (figure - _INSIDE) / scale])
            _draw_small(cell, (shown[position.number] - about) * scale, HEAD_RADIUS * scale)
        _draw_name(cell, position, figure, wording)
    return as_text(root)


def _extent(pose: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Upper left and lower right of a pose with its head, each of shape (2,)."""
    seen = pose[np.isfinite(pose).all(axis=1)]
    return seen.min(axis=0) - HEAD_RADIUS, seen.max(axis=0) + 0.5 * HEAD_RADIUS


def _draw_small(cell: Element, pose: FloatArray, head: float) -> None:
    small = add(cell, "g", transform=f"scale({_SHRUNK})")
    draw_figure(small, pose / _SHRUNK, head / _SHRUNK)


def _draw_name(cell: Element, position: Position, top: float, wording: Wording) -> None:
    middle = _COLUMN / 2
    number = _number(position)
    write(cell, middle, top + 15, number, font_weight="bold", text_anchor="middle")
    found = position.time is not None
    name = wording.say(_NAMES[position.number]) if found else wording.say("not found")
    for row, line in enumerate(wrap(name, _COLUMN + _GAP, _NAME_SIZE)):
        y = top + 29 + _NAME_LINE * row
        fill = {} if found else {"fill": MUTED}
        write(cell, middle, y, line, font_size=_NAME_SIZE, text_anchor="middle", **fill)


def _number(position: Position) -> str:
    return f"≈ {position.name}" if position.source is Source.INFERRED else position.name
