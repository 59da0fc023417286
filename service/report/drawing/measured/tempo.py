"""The tempo of a swing as two bars: the way back and the way down, as long as they take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.analysis.faults import Criterion
from service.analysis.types import SwingAnalysis
from service.lessons.words.wording import Wording
from service.report.drawing.measured.measures import draw_arrow
from service.report.drawing.svg import ANGLE, MUTED, add, write

HEIGHT: Final[float] = 128.0
_LEFT: Final[float] = 8.0
_BAR: Final[float] = 18.0
_ARROW_FROM: Final[float] = 6.0


@dataclass(frozen=True)
class Tempo:
    """Seconds of the way back and of the way down, and how long the way back should be at least."""

    back: float
    down: float
    least_back: float

    @property
    def longest(self) -> float:
        """The longest of them."""
        return max(self.back, self.down, self.least_back)


def tempo_of(criterion: Criterion, analysis: SwingAnalysis) -> Tempo | None:
    """The tempo of a swing; ``None`` where another measure decides, or one is missing."""
    taken = {m.name: m.value for m in analysis.measures}
    back, down = taken.get("backswing_time"), taken.get("downswing_time")
    if criterion.measure.name != "tempo_ratio" or back is None or down is None:
        return None
    return Tempo(back, down, criterion.threshold * down)


def draw_tempo(figure: Element, tempo: Tempo, seconds: float, wording: Wording) -> None:
    """Draw the bars, and an arrow to where the way back should end at least.

    Parameters
    ----------
    seconds
        Panel units for one second.
    """
    say = wording.say
    for top, took, text, colour in (
        (14.0, tempo.back, say("Going back"), ANGLE),
        (74.0, tempo.down, say("Coming down"), MUTED),
    ):
        told = f"{text}: {wording.number(took, 'seconds')} s"
        write(figure, _LEFT, top + 10, told)
        add(figure, "rect", x=_LEFT, y=top + 18, width=took * seconds, height=_BAR, fill=colour)
    if tempo.least_back > tempo.back:
        start, end = (_LEFT + took * seconds for took in (tempo.back, tempo.least_back))
        middle = 14.0 + 18.0 + _BAR / 2
        tip = max(end, start + _ARROW_FROM + 12.0)
        draw_arrow(figure, np.array([[start + _ARROW_FROM, middle], [tip, middle]]))


def scale_for(longest: float, width: float) -> float:
    """Panel units for one second, so that the longest bar and its arrow fit a width."""
    return (width - 2 * _LEFT - 20.0) / longest
