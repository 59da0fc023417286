"""How strongly a fault shows from lesson to lesson, as a chart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, log10
from typing import Final
from xml.etree.ElementTree import Element

from service.analysis.faults import CATALOGUE, Criterion
from service.analysis.types import Status
from service.languages import sayable
from service.lessons import FaultPoint, FaultProgress, MeasurePoint, MeasureProgress, Part, Trend
from service.lessons.words.wording import IN_ENGLISH, Wording
from service.report.drawing.svg import (
    BAND,
    INK,
    LEAD,
    MARK,
    MUTED,
    PANEL,
    PAPER,
    TINT,
    Style,
    add,
    as_text,
    fitting_size,
    lines,
    picture,
    shift,
    text_width,
    write,
)

_WIDTH, _HEIGHT = 420.0, 346.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 50.0, 400.0, 54.0, 236.0
_MOST_DATES: Final[int] = 5
_STATUS: Final[dict[Status, str]] = {
    Status.PRESENT: sayable("fault"),
    Status.ABSENT: sayable("no fault"),
}
_TRENDS: Final[dict[Trend, str]] = {
    Trend.NEVER_SEEN: sayable("never seen"),
    Trend.NEW: sayable("new in the last lesson"),
    Trend.PERSISTING: sayable("still there"),
    Trend.GONE: sayable("gone"),
    Trend.RELAPSE: sayable("was gone and is back"),
}
_UNTOLD: Final[str] = sayable("can't tell")
_PARTS: Final[dict[Part, str]] = {Part.START: sayable("start"), Part.END: sayable("end")}
_LAST_KNOWN: Final[dict[Trend, str]] = {
    Trend.NEVER_SEEN: sayable("not found before"),
    Trend.NEW: sayable("found before"),
    Trend.PERSISTING: sayable("found before"),
    Trend.GONE: sayable("gone before"),
    Trend.RELAPSE: sayable("back before"),
}


@dataclass(frozen=True)
class _Plot:
    """Places of values and of lessons, numbered from 0."""

    low: float
    high: float
    count: int

    def x(self, number: int) -> float:
        room = (_RIGHT - _LEFT) / self.count
        return _LEFT + room * (number + 0.5)

    def y(self, value: float) -> float:
        return _BOTTOM - (_BOTTOM - _TOP) * (value - self.low) / (self.high - self.low)


def draw_progress(
    fault: FaultProgress, measure: MeasureProgress, wording: Wording = IN_ENGLISH
) -> str:
    """Draw the measure of a fault over lessons with its 95 % band and the fault's threshold.

    Lessons stand at equal distances, start and end of one apart where both were filmed. A
    square marks a lesson with the fault, a disc one without, a question mark one in which it
    could not be told from this view; a fault that was gone and is back is written where it came
    back. The fault's side is tinted where this measure alone decides.

    Parameters
    ----------
    measure
        One of the measures by which ``fault`` is judged in that view, taken at least once.

    Returns
    -------
    str
        A self-contained SVG picture, 420 wide.
    """
    criterion = _criterion(fault, measure)
    alone = len(CATALOGUE[fault.fault].criteria[measure.view]) == 1
    plot = _plot(measure, criterion)
    name = wording.say(fault.title)
    title = wording.say("{fault} from lesson to lesson", fault=name)
    root = picture(_WIDTH, _HEIGHT, title, _in_words(fault, measure, wording))
    size = fitting_size(name, _WIDTH - 16, 15, bold=True)
    write(root, 8, 20, name, font_size=size, font_weight="bold")
    taken = f"{wording.say(measure.title)}, {wording.view(measure.view)}"
    write(root, 8, 40, taken, font_size=fitting_size(taken, _WIDTH - 16, 13))
    _draw_ground(root, plot, criterion, wording, tinted=alone)
    _draw_band(root, plot, measure)
    level = plot.y(criterion.threshold)
    lines(root, [((_LEFT, level), (_RIGHT, level))], _THRESHOLD)
    _draw_dates(root, plot, measure, wording)
    _draw_points(root, plot, fault, measure, wording)
    legend = add(root, "g", transform=shift(8, _HEIGHT - 62))
    _draw_legend(legend, criterion, wording, alone=alone)
    return as_text(root)


def in_words(fault: FaultProgress, wording: Wording = IN_ENGLISH) -> str:
    """What became of a fault, for the middle of a sentence.

    Where the last lesson could not tell, it says so and what was known before.
    """
    if fault.trend is None:
        return wording.say("could never be judged")
    if not fault.last_told:
        known = wording.say(_LAST_KNOWN[fault.trend])
        return wording.say("{known}, but the last lesson can't tell", known=known)
    told = [p for p in fault.points if p.settled.status in _STATUS]
    if fault.trend is Trend.NEW and len(told) == 1:
        return wording.say("found in the last lesson")
    if fault.trend is Trend.NEVER_SEEN and any(map(_torn, fault.points)):
        return wording.say("unclear before, not found in the last lesson")
    return wording.say(_TRENDS[fault.trend])


def _torn(point: FaultPoint) -> bool:
    return point.settled.status is Status.UNCERTAIN


def _criterion(fault: FaultProgress, measure: MeasureProgress) -> Criterion:
    definition = CATALOGUE[fault.fault]
    return next(c for c in definition.criteria[measure.view] if c.measure.name == measure.name)


def _plot(measure: MeasureProgress, criterion: Criterion) -> _Plot:
    """Room for all bands and for the threshold with its grey zone."""
    reach = [criterion.threshold - criterion.grey, criterion.threshold + criterion.grey]
    ends = [*reach, *(end for point in measure.points for end in point.estimate.band)]
    margin = 0.08 * (max(ends) - min(ends))
    return _Plot(min(ends) - margin, max(ends) + margin, len(measure.points))


def _draw_ground(
    root: Element, plot: _Plot, criterion: Criterion, wording: Wording, *, tinted: bool
) -> None:
    """The plane with the scale, and the fault's side tinted where this measure alone decides."""
    add(root, "rect", x=_LEFT, y=_TOP, width=_RIGHT - _LEFT, height=_BOTTOM - _TOP, fill=PANEL)
    level, above = plot.y(criterion.threshold), criterion.above is not None
    top, bottom = (_TOP, level) if above else (level, _BOTTOM)
    if tinted:
        add(root, "rect", x=_LEFT, y=top, width=_RIGHT - _LEFT, height=bottom - top, fill=TINT)
    unit = criterion.measure.unit
    own = wording.amount(1.0, unit)[0]  # the scale is round in what the player reads
    for told, digits in _scale(own * plot.low, own * plot.high):
        value, text = told / own, wording.language.number(told, digits)
        write(root, _LEFT - 6, plot.y(value) + 4.5, text, text_anchor="end", fill=MUTED)
        lines(root, [((_LEFT - 3, plot.y(value)), (_LEFT, plot.y(value)))], stroke=MUTED)


def _scale(low: float, high: float) -> list[tuple[float, int]]:
    """Round values for the scale with their decimals: steps of 1, 2 or 5 times a power of ten."""
    rough = (high - low) / 4
    power = 10.0 ** floor(log10(rough))
    step = next(s * power for s in (1, 2, 5, 10) if s * power >= rough)
    digits = max(0, -floor(log10(step)))
    numbers = range(ceil(low / step), floor(high / step) + 1)
    return [(n * step, digits) for n in numbers]


def _draw_band(root: Element, plot: _Plot, measure: MeasureProgress) -> None:
    bands = [(plot.x(i), *point.estimate.band) for i, point in enumerate(measure.points)]
    outline = [(x, plot.y(high)) for x, _, high in bands]
    outline += [(x, plot.y(low)) for x, low, _ in reversed(bands)]
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in outline)
    add(root, "polygon", points=corners, fill=BAND, fill_opacity=0.75)
    whiskers = [((x, plot.y(low)), (x, plot.y(high))) for x, low, high in bands]
    lines(root, whiskers, stroke=LEAD, stroke_width=2)
    values = [(plot.x(i), plot.y(p.estimate.value)) for i, p in enumerate(measure.points)]
    lines(root, list(pairwise(values)), stroke=LEAD, stroke_width=2.5)


def _draw_dates(root: Element, plot: _Plot, measure: MeasureProgress, wording: Wording) -> None:
    every = ceil(plot.count / _MOST_DATES)
    for number in range((plot.count - 1) % every, plot.count, every):
        point = measure.points[number]
        day = wording.language.short_date(point.date)
        write(root, plot.x(number), _BOTTOM + 18, day, text_anchor="middle")
        if point.part is not None:
            part = wording.say(_PARTS[point.part])
            write(root, plot.x(number), _BOTTOM + 32, part, text_anchor="middle")


def _draw_points(
    root: Element, plot: _Plot, fault: FaultProgress, measure: MeasureProgress, wording: Wording
) -> None:
    statuses = {point.date: point.status_from(measure.view) for point in fault.points}
    back = fault.since if fault.trend is Trend.RELAPSE else None
    for number, point in enumerate(measure.points):
        x, y = plot.x(number), plot.y(point.estimate.value)
        _MARKS.get(statuses[point.date], _draw_unknown)(root, x, y)
        if point.date == back:
            told = wording.say("back")
            write(root, x, _BOTTOM - 8, told, font_weight="bold", fill=MARK, text_anchor="middle")


def _draw_present(root: Element, x: float, y: float) -> None:
    add(root, "rect", x=x - 6, y=y - 6, width=12, height=12, fill=MARK, stroke=PAPER)


def _draw_absent(root: Element, x: float, y: float) -> None:
    add(root, "circle", cx=x, cy=y, r=6, fill=PAPER, stroke=LEAD, stroke_width=2.5)


def _draw_unknown(root: Element, x: float, y: float) -> None:
    add(root, "circle", cx=x, cy=y, r=8, fill=PAPER, stroke=MUTED)
    write(root, x, y + 4.5, "?", font_weight="bold", text_anchor="middle")


def _draw_legend(parent: Element, criterion: Criterion, wording: Wording, *, alone: bool) -> None:
    say = wording.say
    x = 8.0
    for draw, text in (
        (_draw_present, say("Fault")),
        (_draw_absent, say("No fault")),
        (_draw_unknown, say("Can't tell")),
    ):
        draw(parent, x, 0)
        write(parent, x + 14, 4.5, text)
        x += text_width(text, 13) + 36
    add(parent, "rect", x=2, y=16, width=12, height=14, fill=BAND)
    lines(parent, [((8, 16), (8, 30))], stroke=LEAD, stroke_width=2)
    write(parent, 22, 27.5, say("Range in which the value lies with 95 % certainty"), fill=INK)
    lines(parent, [((0, 46), (16, 46))], _THRESHOLD)
    amount = wording.with_unit(criterion.threshold, criterion.measure.unit)
    above = criterion.above is not None
    side = say("above {amount}", amount=amount) if above else say("below {amount}", amount=amount)
    if alone:
        told = say("Fault {side}, the tinted side", side=side)
    else:
        told = say("One of two signs: {side}", side=side)
    write(parent, 22, 50.5, told)


def _when(point: MeasurePoint, wording: Wording) -> str:
    day = wording.language.short_date(point.date)
    return f"{day}, {wording.say(_PARTS[point.part])}" if point.part else day


def _in_words(fault: FaultProgress, measure: MeasureProgress, wording: Wording) -> str:
    statuses = {point.date: point.status_from(measure.view) for point in fault.points}
    told = "; ".join(
        f"{_when(p, wording)}: {wording.number(p.estimate.value, measure.unit)} ± "
        f"{wording.with_unit(p.estimate.uncertainty, measure.unit)}, "
        f"{wording.say(_STATUS.get(statuses[p.date], _UNTOLD))}"
        for p in measure.points
    )
    became = wording.say("The fault: {trend}.", trend=in_words(fault, wording))
    return f"{became} {wording.say(measure.title)}: {told}."


_THRESHOLD: Final[Style] = {"stroke": MARK, "stroke_width": 2, "stroke_dasharray": "6 4"}
_MARKS: Final[dict[Status, Callable[[Element, float, float], None]]] = {
    Status.PRESENT: _draw_present,
    Status.ABSENT: _draw_absent,
}
