"""What a hand-width and a degree are, as a small picture."""

from __future__ import annotations

from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.lessons.words.wording import Wording
from service.report.drawing.svg import (
    ANGLE,
    INK,
    MUTED,
    PANEL,
    add,
    as_text,
    lines,
    picture,
    shift,
    wrap,
    write,
)

_WIDTH: Final = 420.0
_ROW = 96.0
_PICTURE = 110.0
_TEXT_SIZE, _LINE = 14, 19.0
_FINGERS: Final = ((0.0, 30.0), (12.0, 38.0), (24.0, 35.0), (36.0, 24.0))
"""Left edge and length of each, little finger last."""


def draw_yardsticks(wording: Wording, *, hand: bool, degrees: bool) -> str:
    """Draw what stands for the units that a page uses, one row each; at least one is asked for.

    Returns
    -------
    str
        A self-contained SVG picture, 420 wide.
    """
    say = wording.say
    rows = []
    if hand:
        text = say(
            "1 hand-width: your hand across the knuckles, without the thumb. That is about a "
            "twentieth of your height."
        )
        rows.append((_draw_hand, text))
    if degrees:
        text = say("30°: the way from one hour to the next on the face of a clock.")
        rows.append((_draw_clock, text))
    title = say("How to read the numbers")
    root = picture(_WIDTH, _ROW * len(rows), title, " ".join(text for _, text in rows))
    for number, (draw, text) in enumerate(rows):
        row = add(root, "g", transform=shift(0, number * _ROW))
        add(row, "rect", x=0, y=4, width=_PICTURE - 8, height=_ROW - 8, fill=PANEL)
        draw(row)
        told = wrap(text, _WIDTH - _PICTURE - 8, _TEXT_SIZE)
        top = (_ROW - _LINE * len(told)) / 2 + 14
        for line, words in enumerate(told):
            write(row, _PICTURE, top + _LINE * line, words, font_size=_TEXT_SIZE)
    return as_text(root)


def _draw_hand(row: Element) -> None:
    hand = add(row, "g", transform=shift(27, 12))
    for left, length in _FINGERS:
        add(hand, "rect", x=left, y=38 - length, width=11, height=length + 12, rx=5.5, fill=MUTED)
    add(hand, "rect", x=0, y=36, width=47, height=24, rx=7, fill=MUTED)
    ends = ((0.0, 70.0), (47.0, 70.0))
    ticks = [((x, 65.0), (x, 75.0)) for x, _ in ends]
    lines(hand, [ends, *ticks], stroke=ANGLE, stroke_width=3)


def _draw_clock(row: Element) -> None:
    clock = add(row, "g", transform=shift(51, 48))
    add(clock, "circle", r=34, fill="none", stroke=MUTED, stroke_width=2)
    hours = np.radians(np.arange(0, 360, 30))
    around = np.column_stack([np.sin(hours), -np.cos(hours)])
    lines(clock, [(29 * at, 34 * at) for at in around], stroke=INK, stroke_width=2)
    lines(clock, [(0 * at, 26 * at) for at in around[:2]], stroke=ANGLE, stroke_width=3)
    (x0, y0), (x1, y1) = 16 * around[0], 16 * around[1]
    d = f"M{x0:.1f} {y0:.1f} A16 16 0 0 1 {x1:.1f} {y1:.1f}"
    add(clock, "path", d=d, fill="none", stroke=ANGLE, stroke_width=2.5)
