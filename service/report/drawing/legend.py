"""What lines and marks stand for, in as many rows as they need."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.languages import ENGLISH, Language
from service.report.drawing.figure import LEAD_LINE, RING, SHADOW_LINE, TRAIL_LINE, draw_club
from service.report.drawing.measured.measures import MEASURE_LINE, draw_arrow
from service.report.drawing.svg import Style, add, lines, shift, text_width, write

_SAMPLE = 30.0
_GAP = 8.0
_BETWEEN = 14.0
_TEXT_SIZE = 13
ROW: Final[float] = 20.0
"""Height of a row."""


@dataclass(frozen=True)
class Sample:
    """One entry: what it draws in 30 units to the right of the origin, and what that is."""

    draw: Callable[[Element], None]
    text: str

    @property
    def width(self) -> float:
        """Room that it needs in its row."""
        return _SAMPLE + _GAP + text_width(self.text, _TEXT_SIZE) + _BETWEEN


def samples_of(
    *,
    club: bool,
    lead: bool = True,
    trail: bool = True,
    measured: bool = False,
    shadow: bool = False,
    ringed: bool = False,
    arrow: bool = False,
    language: Language = ENGLISH,
) -> list[Sample]:
    """The entries for what a picture shows."""
    say = language.say
    samples = []
    if lead:
        samples.append(Sample(_line(LEAD_LINE), say("Lead side")))
    if trail:
        samples.append(Sample(_line(TRAIL_LINE), say("Trail side")))
    if club:
        samples.append(Sample(_club, say("Club")))
    if shadow:
        samples.append(Sample(_line(SHADOW_LINE), say("Address")))
    if ringed:
        samples.append(Sample(_ring, say("Points that the finding rests on")))
    if measured:
        samples.append(Sample(_line(MEASURE_LINE), say("What is measured")))
    if arrow:
        samples.append(Sample(_arrow, say("Which way it should go")))
    return samples


def legend_height(samples: Sequence[Sample], width: float) -> float:
    """Height of a legend that is no wider than this."""
    return ROW * len(_rows(samples, width))


def draw_legend(parent: Element, samples: Sequence[Sample], width: float) -> None:
    """Draw the entries, the first row about y = 0."""
    for number, row in enumerate(_rows(samples, width)):
        x = 0.0
        for sample in row:
            entry = add(parent, "g", transform=shift(x, ROW * number))
            sample.draw(entry)
            write(entry, _SAMPLE + _GAP, 4.5, sample.text, font_size=_TEXT_SIZE)
            x += sample.width


def _rows(samples: Sequence[Sample], width: float) -> list[list[Sample]]:
    rows: list[list[Sample]] = [[]]
    for sample in samples:
        if rows[-1] and sum(s.width for s in (*rows[-1], sample)) - _BETWEEN > width:
            rows.append([])
        rows[-1].append(sample)
    return rows


def _line(style: Style) -> Callable[[Element], None]:
    return lambda parent: lines(parent, [((0.0, 0.0), (_SAMPLE, 0.0))], style)


def _club(parent: Element) -> None:
    draw_club(parent, np.array([0.0, 0.0]), np.array([_SAMPLE - 5.0, 0.0]))


def _ring(parent: Element) -> None:
    add(parent, "circle", None, RING, cx=_SAMPLE / 2, cy=0)


def _arrow(parent: Element) -> None:
    draw_arrow(parent, np.array([[4.0, 0.0], [_SAMPLE - 2.0, 0.0]]))
