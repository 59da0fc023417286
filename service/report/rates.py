"""Fault rates of many swings: as text for a terminal, and as a page with charts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Final
from xml.etree.ElementTree import Element

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from service.lessons.rates import FaultRate, Group, Summary, film_instead, why
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

_WIDTH, _ROW, _TOP = 620.0, 26.0, 34.0
_LEFT, _RIGHT = 200.0, 500.0
_MOST_NAME: Final[int] = 24
_REASONS: Final[int] = 6
_NOBODY: Final[str] = "not told"
ALL: Final[str] = "all swings"

CAUTION: Final[str] = (
    "A rate is the share of the swings with the fault among those in which it was found present or "
    "absent. Intervals are 95 % (Wilson 1927) and take swings as independent; those of one player "
    "are alike, so that a few players with many swings make a rate less sure than it looks."
)

_ENVIRONMENT: Final = Environment(
    loader=PackageLoader("service.report"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def rates_table(summary: Summary) -> str:
    """The summary as text: each fault in all swings and in each group, and why not more."""
    lines = [_size(summary.total, ALL)]
    lines += [f"  {_size(group, name_of(group))}" for group in summary.groups]
    if summary.left_out:
        lines.append(f"  and {summary.left_out} smaller groups, which are only in the total")
    lines += ["", _line("Fault", "rate", "95 %", "decided", "uncertain", "not judged", "mostly as")]
    for total, groups in summary.by_fault:
        lines.append(_rate_line(total.title, total))
        lines += [_rate_line(f"  {name_of(group)}", rate) for group, rate in groups]
    reasons = common_reasons(summary.total)
    if reasons:
        lines += ["", "Why findings were not assessable, and what to film instead"]
        lines += [f"  {share:6.1%}  {words}. {advice}" for words, share, advice in reasons]
    return "\n".join([*lines, "", CAUTION]) + "\n"


def rates_page(summary: Summary, title: str) -> str:
    """The summary as one self-contained HTML page: no scripts, nothing fetched from elsewhere."""
    charts = [
        (total, groups, Markup(draw_rates(total, groups))) for total, groups in summary.by_fault
    ]
    template = _ENVIRONMENT.get_template("summary.html")
    return template.render(
        title=title,
        summary=summary,
        charts=charts,
        reasons=common_reasons(summary.total),
        name_of=name_of,
        why=why,
        percent=_percent,
        caution=CAUTION,
    )


def draw_rates(total: FaultRate, groups: Sequence[tuple[Group, FaultRate]]) -> str:
    """Draw the rate of one fault in all swings and in each group, each with its interval.

    Returns
    -------
    str
        A self-contained SVG picture, 620 wide.
    """
    rows = [(ALL, total), *((name_of(group), rate) for group, rate in groups)]
    height = _TOP + _ROW * len(rows) + 8
    told = "; ".join(f"{name}: {_percent(rate.rate)}" for name, rate in rows)
    root = picture(_WIDTH, height, f"{total.title}: how often", told)
    for percent in (0, 25, 50, 75, 100):
        x = _x(percent / 100)
        lines(root, [((x, _TOP - 6), (x, height - 8))], stroke=BAND if percent else MUTED)
        write(root, x, 20, f"{percent} %", fill=MUTED, text_anchor="middle")
    write(root, _RIGHT + 24, 20, "decided", fill=MUTED)
    for number, (name, rate) in enumerate(rows):
        _draw_row(root, _TOP + _ROW * (number + 0.5), name, rate, whole=number == 0)
    return as_text(root)


def common_reasons(group: Group) -> list[tuple[str, float, str]]:
    """Why findings were not assessable: words, share of all findings, what to film instead."""
    counts: Counter[str] = Counter()
    for rate in group.rates:
        counts.update(rate.reasons)
    findings = sum(rate.swings for rate in group.rates)
    return [
        (why(code), count / findings, film_instead(code) or "")
        for code, count in counts.most_common(_REASONS)
    ]


def name_of(group: Group) -> str:
    """What the swings of a group are alike in."""
    return _NOBODY if group.name is None else group.name.replace("_", " ")


def _draw_row(root: Element, y: float, name: str, rate: FaultRate, *, whole: bool) -> None:
    short = name if len(name) <= _MOST_NAME else f"{name[: _MOST_NAME - 1]}…"
    weight = "bold" if whole else "normal"
    write(root, _LEFT - 12, y + 4.5, short, text_anchor="end", font_weight=weight)
    write(root, _RIGHT + 24, y + 4.5, f"{rate.decided:,} of {rate.swings:,}", fill=MUTED)
    if rate.rate is None or rate.interval is None:
        write(root, _LEFT + 6, y + 4.5, "never to be judged", fill=MUTED)
        return
    low, high = (_x(end) for end in rate.interval)
    add(root, "rect", x=low, y=y - 5, width=max(high - low, 1.0), height=10, fill=BAND)
    lines(root, [((low, y), (high, y))], stroke=LEAD, stroke_width=2)
    add(root, "circle", cx=_x(rate.rate), cy=y, r=5, fill=INK if whole else LEAD, stroke=PANEL)


def _x(share: float) -> float:
    return _LEFT + (_RIGHT - _LEFT) * share


def _size(group: Group, name: str) -> str:
    none = f", no golf swing in {group.no_swing:,} clips" if group.no_swing else ""
    return f"{name}: {group.swings:,} swings{none}"


def _rate_line(name: str, rate: FaultRate) -> str:
    interval = "-"
    if rate.interval is not None:
        interval = f"{100 * rate.interval[0]:.1f} to {100 * rate.interval[1]:.1f} %"
    reason = why(rate.main_reason) if rate.main_reason else ""
    return _line(
        name,
        _percent(rate.rate),
        interval,
        f"{rate.decided:,}",
        f"{rate.uncertain:,}",
        f"{100 * rate.unjudged:.1f} %",
        reason,
    )


def _line(*cells: str) -> str:
    name, rate, interval, decided, uncertain, unjudged, reason = cells
    numbers = f"{rate:>7} {interval:>15} {decided:>9} {uncertain:>9} {unjudged:>10}"
    return f"{name[:44]:<44} {numbers}  {reason}".rstrip()


def _percent(share: float | None) -> str:
    return "-" if share is None else f"{100 * share:.1f} %"
