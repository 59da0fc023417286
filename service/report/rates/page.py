"""Fault rates as one self-contained page with charts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final
from xml.etree.ElementTree import Element

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from service.languages import ENGLISH, Language
from service.lessons.not_judged import why
from service.lessons.rates import FaultRate, Group, Summary
from service.report.drawing.svg import (
    BAND,
    INK,
    LEAD,
    MUTED,
    PANEL,
    add,
    as_text,
    lines,
    picture,
    write,
)
from service.report.rates.words import (
    ALL,
    BY,
    CAUTION,
    FEW,
    ORDER,
    common_reasons,
    copies,
    interval,
    left_out,
    most_sure_first,
    name_of,
    never_judged,
    passed_over,
    percent,
    refused,
    without_swing,
)

_WIDTH, _ROW, _TOP = 400.0, 26.0, 34.0
_LEFT, _RIGHT = 132.0, 322.0
_BAR: Final[float] = 20.0
"""Height of the one row that stands for all swings."""
_EDGE: Final[float] = 6.0
_MOST_NAME: Final[int] = 17

_ENVIRONMENT: Final = Environment(
    loader=PackageLoader("service.report"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def rates_page(summary: Summary, name: str, language: Language = ENGLISH) -> str:
    """The summary as one self-contained HTML page: no scripts, nothing fetched from elsewhere.

    The faults that show most for sure, by the lower end of their interval, come first; those that
    were never judged are a list. Where there are groups each fault has a chart of them, too.

    Parameters
    ----------
    name
        Of what is summed up.
    """
    faults = most_sure_first(summary)
    template = _ENVIRONMENT.get_template("summary.html")
    return template.render(
        title=language.say("Fault rates of {name}", name=name),
        summary=summary,
        rates=[(total, Markup(draw_rate(total, language))) for total, _ in faults],
        charts=summary.groups
        and [
            (total, Markup(draw_rates(total, groups, summary.by, language)))
            for total, groups in faults
        ],
        never=[*never_judged(summary)],
        reasons=common_reasons(summary.total, language),
        language=language,
        say=language.say,
        count=language.count,
        by=summary.by and language.say(BY.get(summary.by, summary.by.replace("_", " "))),
        few=FEW,
        left_out=left_out(summary, language),
        without_swing=without_swing(summary.total, language),
        copies=copies(summary, language),
        refused=refused(summary, language),
        passed_over=passed_over(summary, language),
        why=lambda code: language.say(why(code)),
        percent=lambda share: percent(share, language),
        interval=lambda rate: interval(rate, language),
        caution=language.say(CAUTION),
        order=language.say(ORDER),
    )


def draw_rate(rate: FaultRate, language: Language) -> str:
    """Draw the rate of one fault in all swings, with its interval, from 0 to 100 %.

    Returns
    -------
    str
        A self-contained SVG picture, 400 wide and 20 high, without words.
    """
    title = language.say("{fault}: how often", fault=language.say(rate.title))
    root = picture(_WIDTH, _BAR, title, percent(rate.rate, language))

    def at(share: float) -> float:
        return _EDGE + (_WIDTH - 2 * _EDGE) * share

    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        lines(root, [((at(share), 0.0), (at(share), _BAR))], stroke=BAND if share else MUTED)
    _draw_interval(root, _BAR / 2, rate, at, INK)
    return as_text(root)


def draw_rates(
    total: FaultRate,
    groups: Sequence[tuple[Group, FaultRate]],
    by: str | None,
    language: Language,
) -> str:
    """Draw the rate of one fault in all swings and in each group, each with its interval.

    Parameters
    ----------
    by
        What the groups go by.

    Returns
    -------
    str
        A self-contained SVG picture, 400 wide.
    """
    say = language.say
    rows = [(say(ALL), total), *((name_of(group, by, language), rate) for group, rate in groups)]
    height = _TOP + _ROW * len(rows) + 8
    told = "; ".join(f"{name}: {percent(rate.rate, language)}" for name, rate in rows)
    title = say("{fault}: how often", fault=say(total.title))
    root = picture(_WIDTH, height, title, told)
    for share in (0, 50, 100):
        x = _x(share / 100)
        lines(root, [((x, _TOP - 6), (x, height - 8))], stroke=BAND if share else MUTED)
        write(root, x, 20, f"{share} %", fill=MUTED, text_anchor="middle")
    write(root, _WIDTH, 20, say("decided"), fill=MUTED, text_anchor="end")
    for number, (name, rate) in enumerate(rows):
        _draw_row(root, _TOP + _ROW * (number + 0.5), name, rate, language, whole=number == 0)
    return as_text(root)


def _draw_row(
    root: Element, y: float, name: str, rate: FaultRate, language: Language, *, whole: bool
) -> None:
    short = name if len(name) <= _MOST_NAME else f"{name[: _MOST_NAME - 1]}…"
    weight = "bold" if whole else "normal"
    write(root, _LEFT - 12, y + 4.5, short, text_anchor="end", font_weight=weight)
    write(root, _WIDTH, y + 4.5, language.count(rate.decided), fill=MUTED, text_anchor="end")
    if rate.rate is None:
        write(root, _LEFT + 6, y + 4.5, language.say("could never be judged"), fill=MUTED)
        return
    _draw_interval(root, y, rate, _x, INK if whole else LEAD)


def _draw_interval(
    root: Element, y: float, rate: FaultRate, at: Callable[[float], float], colour: str
) -> None:
    if rate.rate is None or rate.interval is None:
        return
    low, high = (at(end) for end in rate.interval)
    add(root, "rect", x=low, y=y - 5, width=max(high - low, 1.0), height=10, fill=BAND)
    lines(root, [((low, y), (high, y))], stroke=LEAD, stroke_width=2)
    add(root, "circle", cx=at(rate.rate), cy=y, r=5, fill=colour, stroke=PANEL)


def _x(share: float) -> float:
    return _LEFT + (_RIGHT - _LEFT) * share
