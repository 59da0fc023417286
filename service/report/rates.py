"""Fault rates of many swings: as text for a terminal, and as a page with charts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Final
from xml.etree.ElementTree import Element

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from service.languages import ENGLISH, Language, sayable
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
_LEFT, _RIGHT, _GAP = 200.0, 490.0, 34.0
_MOST_NAME: Final[int] = 24
_REASONS: Final[int] = 6
_CODED: Final = ("view", "club", "intent", "handedness")
"""What is told by words of ours, which every language has."""

ALL: Final[str] = sayable("all swings")
CAUTION: Final[str] = sayable(
    "A rate is the share of the swings with the fault among those in which it was found present or "
    "absent. Intervals are 95 % (Wilson 1927) and take swings as independent; those of one player "
    "are alike, so that a few players with many swings make a rate less sure than it looks."
)
_WORDS: Final[dict[str, str]] = {
    "full_speed": sayable("full speed"),
    "rehearsal": sayable("rehearsal"),
    "right": sayable("right-handed"),
    "left": sayable("left-handed"),
    "face_on": sayable("face on"),
    "down_the_line": sayable("down the line"),
    "driver": sayable("driver"),
    "fairway_wood": sayable("fairway wood"),
    "hybrid": sayable("hybrid"),
    "long_iron": sayable("long iron"),
    "mid_iron": sayable("mid iron"),
    "short_iron": sayable("short iron"),
    "wedge": sayable("wedge"),
}
_BY: Final[dict[str, str]] = {
    "view": sayable("view"),
    "club": sayable("club"),
    "intent": sayable("intent"),
    "handedness": sayable("handedness"),
    "coach": sayable("coach"),
    "year": sayable("year"),
}

_ENVIRONMENT: Final = Environment(
    loader=PackageLoader("service.report"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def rates_table(summary: Summary, language: Language = ENGLISH) -> str:
    """The summary as text: each fault in all swings and in each group, and why not more."""
    say = language.say
    lines = [_size(summary.total, say(ALL), language)]
    lines += [
        f"  {_size(group, name_of(group, summary.by, language), language)}"
        for group in summary.groups
    ]
    if summary.left_out:
        lines.append(f"  {left_out(summary, language)}")
    head = (say("Fault"), say("rate"), "95 %", say("decided"))
    lines += ["", _line(*head, say("uncertain"), say("not judged"), say("mostly as"))]
    for total, groups in summary.by_fault:
        lines.append(_rate_line(say(total.title), total, language))
        lines += [
            _rate_line(f"  {name_of(group, summary.by, language)}", rate, language)
            for group, rate in groups
        ]
    reasons = common_reasons(summary.total, language)
    if reasons:
        lines += ["", say("Why findings were not assessable, and what to film instead")]
        lines += [
            f"  {percent(share, language):>7}  {words}. {advice}"
            for words, share, advice in reasons
        ]
    return "\n".join([*lines, "", say(CAUTION)]) + "\n"


def rates_page(summary: Summary, name: str, language: Language = ENGLISH) -> str:
    """The summary as one self-contained HTML page: no scripts, nothing fetched from elsewhere.

    The faults that show most for sure, by the lower end of their interval, come first; those that
    were never judged are a list.

    Parameters
    ----------
    name
        Of what is summed up.
    """
    faults = list(summary.by_fault)
    judged = sorted(
        ((total, groups) for total, groups in faults if total.interval),
        key=lambda fault: -(fault[0].interval or (0.0,))[0],
    )
    charts = [
        (total, Markup(draw_rates(total, groups, summary.by, language))) for total, groups in judged
    ]
    template = _ENVIRONMENT.get_template("summary.html")
    return template.render(
        title=language.say("Fault rates of {name}", name=name),
        summary=summary,
        charts=charts,
        never=[total for total, _ in faults if not total.interval],
        reasons=common_reasons(summary.total, language),
        language=language,
        say=language.say,
        count=language.count,
        by=summary.by and language.say(_BY.get(summary.by, summary.by.replace("_", " "))),
        left_out=left_out(summary, language),
        why=lambda code: language.say(why(code)),
        percent=lambda share: percent(share, language),
        caution=language.say(CAUTION),
    )


def draw_rates(
    total: FaultRate,
    groups: Sequence[tuple[Group, FaultRate]],
    by: str | None = None,
    language: Language = ENGLISH,
) -> str:
    """Draw the rate of one fault in all swings and in each group, each with its interval.

    Parameters
    ----------
    by
        What the groups go by.

    Returns
    -------
    str
        A self-contained SVG picture, 620 wide.
    """
    say = language.say
    rows = [(say(ALL), total), *((name_of(group, by, language), rate) for group, rate in groups)]
    height = _TOP + _ROW * len(rows) + 8
    told = "; ".join(f"{name}: {percent(rate.rate, language)}" for name, rate in rows)
    title = say("{fault}: how often", fault=say(total.title))
    root = picture(_WIDTH, height, title, told)
    for share in (0, 25, 50, 75, 100):
        x = _x(share / 100)
        lines(root, [((x, _TOP - 6), (x, height - 8))], stroke=BAND if share else MUTED)
        write(root, x, 20, f"{share} %", fill=MUTED, text_anchor="middle")
    write(root, _RIGHT + _GAP, 20, say("decided"), fill=MUTED)
    for number, (name, rate) in enumerate(rows):
        _draw_row(root, _TOP + _ROW * (number + 0.5), name, rate, language, whole=number == 0)
    return as_text(root)


def common_reasons(group: Group, language: Language = ENGLISH) -> list[tuple[str, float, str]]:
    """Why findings were not assessable: words, share of all findings, what to film instead."""
    counts: Counter[str] = Counter()
    for rate in group.rates:
        counts.update(rate.reasons)
    findings = sum(rate.swings for rate in group.rates)
    return [
        (language.say(why(code)), count / findings, _advice(code, language))
        for code, count in counts.most_common(_REASONS)
    ]


def _advice(code: str, language: Language) -> str:
    advice = film_instead(code)
    return language.say(advice) if advice else ""


def name_of(group: Group, by: str | None = None, language: Language = ENGLISH) -> str:
    """What the swings of a group are alike in."""
    if group.name is None:
        return language.say("not given")
    if by in _CODED:
        return language.say(_WORDS.get(group.name, group.name.replace("_", " ")))
    return group.name


def left_out(summary: Summary, language: Language = ENGLISH) -> str:
    """Of how many groups only the total tells, in words."""
    return language.many(
        "{count} smaller group is only in the total",
        "{count} smaller groups are only in the total",
        summary.left_out,
    )


def percent(share: float | None, language: Language = ENGLISH) -> str:
    """A share in percent; a dash for none."""
    return "-" if share is None else f"{language.number(100 * share, 1)} %"


def _draw_row(
    root: Element, y: float, name: str, rate: FaultRate, language: Language, *, whole: bool
) -> None:
    short = name if len(name) <= _MOST_NAME else f"{name[: _MOST_NAME - 1]}…"
    weight = "bold" if whole else "normal"
    write(root, _LEFT - 12, y + 4.5, short, text_anchor="end", font_weight=weight)
    told = language.say(
        "{decided} of {swings}",
        decided=language.count(rate.decided),
        swings=language.count(rate.swings),
    )
    write(root, _RIGHT + _GAP, y + 4.5, told, fill=MUTED)
    if rate.rate is None or rate.interval is None:
        write(root, _LEFT + 6, y + 4.5, language.say("could never be judged"), fill=MUTED)
        return
    low, high = (_x(end) for end in rate.interval)
    add(root, "rect", x=low, y=y - 5, width=max(high - low, 1.0), height=10, fill=BAND)
    lines(root, [((low, y), (high, y))], stroke=LEAD, stroke_width=2)
    add(root, "circle", cx=_x(rate.rate), cy=y, r=5, fill=INK if whole else LEAD, stroke=PANEL)


def _x(share: float) -> float:
    return _LEFT + (_RIGHT - _LEFT) * share


def _size(group: Group, name: str, language: Language) -> str:
    told = language.many(
        "{name}: {swings} swing",
        "{name}: {swings} swings",
        group.swings,
        name=name,
        swings=language.count(group.swings),
    )
    if not group.no_swing:
        return told
    none = language.many(
        "no golf swing in {clips} clip",
        "no golf swing in {clips} clips",
        group.no_swing,
        clips=language.count(group.no_swing),
    )
    return f"{told}, {none}"


def _rate_line(name: str, rate: FaultRate, language: Language) -> str:
    interval = "-"
    if rate.interval is not None:
        low, high = (language.number(100 * end, 1) for end in rate.interval)
        interval = f"{low} – {high} %"
    reason = language.say(why(rate.main_reason)) if rate.main_reason else ""
    return _line(
        name,
        percent(rate.rate, language),
        interval,
        language.count(rate.decided),
        language.count(rate.uncertain),
        percent(rate.unjudged, language),
        reason,
    )


def _line(*cells: str) -> str:
    name, rate, interval, decided, uncertain, unjudged, reason = cells
    numbers = f"{rate:>7} {interval:>15} {decided:>11} {uncertain:>9} {unjudged:>15}"
    return f"{name[:44]:<44} {numbers}  {reason}".rstrip()
