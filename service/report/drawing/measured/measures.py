"""A fault's own measures drawn into a figure, with an arrow to where each should be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import copysign
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.analysis.faults import CATALOGUE, Criterion
from service.analysis.types import FloatArray, Measurement, SwingAnalysis, View
from service.languages import sayable
from service.lessons.words.wording import NBSP, Wording
from service.report.drawing.measured.angles import SeenAngle
from service.report.drawing.measured.marks import Mark, Poses, mark_of, unit
from service.report.drawing.svg import ANGLE, MARK, PAPER, Style, add, lines
from service.report.vague import is_vague

_BESIDE: Final[float] = 11.0
"""Between what is drawn and the arrow beside it, so that no hand lies under an arrow."""
_LEAST_ARROW: Final[float] = 12.0
_HEAD_LENGTH, _HEAD_WIDTH = 9.0, 5.5
_BECAME: Final[str] = f"{NBSP}→{NBSP}"
_AIM: Final[str] = sayable("(aim: {aim})")
_NOT_ABOVE_0: Final[str] = sayable("0 or less")
_ABOVE_0: Final[str] = sayable("more than 0")
_AT_MOST: Final[str] = sayable("at most {amount}")
_AT_LEAST: Final[str] = sayable("at least {amount}")
MEASURE_LINE: Final[Style] = {
    "stroke": ANGLE,
    "stroke_width": 3.5,
    "stroke_linecap": "round",
}
_STEPS: Final[int] = 16


@dataclass(frozen=True)
class ShownMeasure:
    """A measure of the fault with its value in one swing and its mark, if it can be drawn."""

    criterion: Criterion
    measurement: Measurement
    mark: Mark | None

    @property
    def is_vague(self) -> bool:
        """Whether it could be nearly any."""
        told = self.measurement
        return is_vague(told.name, told.unit, told.uncertainty)

    @property
    def arrow(self) -> FloatArray | None:
        """The way from where it is to where it should be, shape (n_steps, 2).

        ``None`` where it is right already, too vague to say, or can't be drawn. As long as it
        should move, but never too short to be seen.
        """
        value, mark = self.measurement.value, self.mark
        if mark is None or value is None or self.is_vague or self.criterion.excess(value) <= 0.0:
            return None
        missing = self.criterion.threshold - value
        if mark.corner is not None:
            return _around(mark, missing)
        if mark.growth is not None:
            along, far = mark.growth.along, missing * mark.growth.per_unit
            far = copysign(max(abs(far), _LEAST_ARROW), far)
            across = np.array([-along[1], along[0]])
            start = mark.growth.end + _BESIDE * across
            return np.stack([start, start + along * far])
        if mark.turn is not None:
            turn = mark.turn
            angles = np.linspace(0.2 * np.pi, 0.8 * np.pi, _STEPS)[::-1]
            x = turn.way * copysign(1.0, missing) * np.cos(angles)
            arc = np.column_stack([x * turn.half_width, 0.45 * turn.half_width * np.sin(angles)])
            return np.asarray(turn.middle + np.array([0.0, _BESIDE]) + arc)
        return None

    def text(self, wording: Wording) -> str:
        """The measure with its value, as the analysis has it."""
        return f"{wording.say(self.measurement.title)}: {value_in_words(self.measurement, wording)}"

    def aim(self, wording: Wording) -> str:
        """What the value should come to, in its unit, which stands before it; empty without one."""
        if self.measurement.value is None or self.is_vague:
            return ""
        unit, criterion = self.measurement.unit, self.criterion
        bound = wording.number(criterion.threshold, unit) + ("°" if unit == "degrees" else "")
        above = criterion.below is None
        form = _AT_MOST if above else _AT_LEAST
        if criterion.threshold == 0.0:
            form = _NOT_ABOVE_0 if above else _ABOVE_0
        return f" {wording.say(_AIM, aim=wording.say(form, amount=bound))}"


def value_in_words(measurement: Measurement, wording: Wording) -> str:
    """A value with its unit, short, where it tells anything.

    >>> value_in_words(Measurement("tilt", "Tilt", "degrees", "P7", 37.6, 2.0), Wording())
    '38°'
    """
    if measurement.value is None:
        return wording.say("not measured")
    if is_vague(measurement.name, measurement.unit, measurement.uncertainty):
        return wording.say("measured too vaguely")
    return wording.short(measurement.value, measurement.unit)


def values_in_words(measurements: Sequence[Measurement], wording: Wording) -> str:
    r"""Values of one measure one after the other, the unit said once.

    >>> from dataclasses import replace
    >>> tilt = Measurement("tilt", "Tilt", "times", "P7", 2.0, 0.1)
    >>> values_in_words([tilt, replace(tilt, value=3.0)], Wording())
    '2.0\xa0→\xa03.0\xa0to 1'
    """
    told = [value_in_words(m, wording) for m in measurements]
    unit = f"{NBSP}{wording.unit(measurements[-1].unit)}"
    if all(text.endswith(unit) for text in told):
        told[:-1] = [text.removesuffix(unit) for text in told[:-1]]
    return _BECAME.join(told)


def measures_of(
    fault: str, view: View, analysis: SwingAnalysis, poses: Poses
) -> tuple[ShownMeasure, ...]:
    """The measures by which a fault is judged from a view, as they are in one swing."""
    taken = {m.name: m for m in analysis.measures}
    return tuple(
        ShownMeasure(c, taken[c.measure.name], mark_of(c.measure.name, poses))
        for c in CATALOGUE[fault].criteria[view]
        if c.measure.name in taken
    )


def drawn_points(shown: Sequence[ShownMeasure]) -> FloatArray:
    """Every end of what is drawn for measures, shape (n, 2)."""
    marks = [s.mark for s in shown if s.mark is not None]
    ends = [end for m in marks for line in (*m.own, *m.against) for end in line]
    return np.array(ends).reshape(-1, 2)


def draw_marks(parent: Element, shown: Sequence[ShownMeasure]) -> None:
    """Draw the lines of measures; angles are drawn with the other angles."""
    for mark in (s.mark for s in shown if s.mark is not None):
        lines(parent, mark.against, stroke=ANGLE, stroke_width=2, stroke_dasharray="3 4")
        lines(parent, mark.own, stroke=PAPER, stroke_width=6.5, stroke_linecap="round")
        lines(parent, mark.own, MEASURE_LINE)


def arrows_of(shown: Sequence[ShownMeasure]) -> list[FloatArray]:
    """The arrows of measures that are not as they should be; of two that start at one place one."""
    arrows: list[FloatArray] = []
    for arrow in (s.arrow for s in shown):
        if arrow is not None and all(_apart(arrow, other) for other in arrows):
            arrows.append(arrow)
    return arrows


def _apart(one: FloatArray, other: FloatArray) -> bool:
    return bool(np.hypot(*(one[0] - other[0])) > 1.2 * _BESIDE)


def draw_arrow(parent: Element, way: FloatArray) -> None:
    """Draw an arrow along a way of shape (n_steps, 2)."""
    end = way[-1]
    back = unit(end - way[-2])
    across = np.array([-back[1], back[0]])
    foot = end - _HEAD_LENGTH * back
    d = "M" + " L".join(f"{x:.1f} {y:.1f}" for x, y in (*way[:-1], foot))
    for colour, width in ((PAPER, 6.5), (MARK, 3.0)):
        add(parent, "path", d=d, fill="none", stroke=colour, stroke_width=width)
    corners = (end, foot + _HEAD_WIDTH * across, foot - _HEAD_WIDTH * across)
    add(parent, "polygon", points=" ".join(f"{x:.1f},{y:.1f}" for x, y in corners), fill=MARK)


def angle_of(shown: ShownMeasure, wording: Wording) -> SeenAngle | None:
    """The angle of a mark with the measure's value beside it."""
    value = shown.measurement.value
    if shown.mark is None or shown.mark.corner is None or value is None or shown.is_vague:
        return None
    at, start, turn = _turn(shown.mark)
    text = value_in_words(shown.measurement, wording)
    return SeenAngle(shown.measurement.title, value, at, start, start + turn, text)


def _turn(mark: Mark) -> tuple[FloatArray, float, float]:
    """Corner of a mark's angle, direction of its first ray and the turn to the second.

    In degrees, counterclockwise.
    """
    assert mark.corner is not None
    at, *ends = mark.corner
    start, end = (float(np.degrees(np.arctan2(-(p - at)[1], (p - at)[0]))) for p in ends)
    turn = (end - start + 180.0) % 360.0 - 180.0
    if mark.sense is not None and turn * mark.sense < -90.0:
        turn += 360.0 * mark.sense
    return at, start, turn


def _around(mark: Mark, missing: float) -> FloatArray:
    """An arc outside the end of the second ray, as far round as degrees are missing."""
    at, start, turn = _turn(mark)
    assert mark.corner is not None
    radius = float(np.hypot(*(mark.corner[2] - at))) + _BESIDE
    least = float(np.degrees(_LEAST_ARROW / radius))
    far = copysign(max(abs(missing), least), missing) * copysign(1.0, turn)
    angles = np.radians(start + turn + np.linspace(0.0, far, _STEPS))
    return np.asarray(at + radius * np.column_stack([np.cos(angles), -np.sin(angles)]))
