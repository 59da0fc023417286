"""Fault rates as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from service.languages import ENGLISH, Language
from service.lessons.not_judged import why
from service.lessons.rates import FaultRate, Group, Summary
from service.report.rates.words import (
    ALL,
    CAUTION,
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
)

_WIDEST_NAME: Final[int] = 60


def rates_table(summary: Summary, language: Language = ENGLISH) -> str:
    """The summary as text: each fault in all swings and in each group, and why not more.

    The faults that show most for sure come first, those that were never judged last, and it says
    so.
    """
    say = language.say
    lines = [_size(summary.total, say(ALL), language)]
    lines += [
        f"  {_size(group, name_of(group, summary.by, language), language)}"
        for group in summary.groups
    ]
    if summary.left_out:
        lines.append(f"  {left_out(summary, language)}")
    if summary.copies:
        lines.append(copies(summary, language))
    if summary.refused:
        lines.append(refused(summary, language))
    if summary.passed_over:
        lines.append(passed_over(summary, language))
    head = (say("Fault"), say("rate"), "95 %", say("decided"))
    cells: list[tuple[str, ...]] = [(*head, say("uncertain"), say("not judged"), say("mostly as"))]
    for total, groups in most_sure_first(summary):
        cells.append(_rate_cells(say(total.title), total, language))
        cells += [
            _rate_cells(f"  {name_of(group, summary.by, language)}", rate, language)
            for group, rate in groups
        ]
    cells += [_rate_cells(say(total.title), total, language) for total in never_judged(summary)]
    lines += ["", say(ORDER), *_table(cells)]
    reasons = common_reasons(summary.total, language)
    if reasons:
        lines += [
            "",
            say("Why findings were not assessable, as a share of all, and what to film instead"),
        ]
        lines += [
            f"  {percent(share, language):>7}  {words}. {advice}"
            for words, share, advice in reasons
        ]
    return "\n".join([*lines, "", say(CAUTION)]) + "\n"


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


def _rate_cells(name: str, rate: FaultRate, language: Language) -> tuple[str, ...]:
    return (
        name,
        percent(rate.rate, language),
        interval(rate, language),
        language.count(rate.decided),
        language.count(rate.uncertain),
        percent(rate.unjudged, language),
        language.say(why(rate.main_reason)) if rate.main_reason else "",
    )


def _table(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Rows as lines, their names as wide as the longest as far as there is room."""
    wide = min(_WIDEST_NAME, max(len(row[0]) for row in rows))
    return [_line(wide, *row) for row in rows]


def _line(wide: int, *cells: str) -> str:
    name, rate, interval, decided, uncertain, unjudged, reason = cells
    numbers = f"{rate:>7} {interval:>15} {decided:>11} {uncertain:>9} {unjudged:>15}"
    return f"{name[:wide]:<{wide}} {numbers}  {reason}".rstrip()
