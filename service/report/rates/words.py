"""Words for what is summed up: groups, reasons, shares."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Final

from service.languages import ENGLISH, Language, sayable
from service.lessons.not_judged import film_instead, why
from service.lessons.rates import FaultRate, Group, Summary
from service.report.clubs import CLUB_NAMES

_REASONS: Final[int] = 6
FEW: Final[int] = 10
"""Swings judged of which fewer make no rate to go by; a judgement."""
_CODED: Final = ("view", "club", "intent", "handedness")
"""What is told by words of ours, which every language has."""

ALL: Final[str] = sayable("all swings")
ORDER: Final[str] = sayable(
    "Those that show most for sure come first, those judged in few swings last."
)
WHERE_REFUSED: Final[str] = sayable(
    "What could not be read, and why, is written as a table by --csv FOLDER."
)
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
    **{club.value: name for club, name in CLUB_NAMES.items()},
}
BY: Final[dict[str, str]] = {
    "view": sayable("view"),
    "club": sayable("club"),
    "intent": sayable("intent"),
    "handedness": sayable("handedness"),
    "coach": sayable("coach"),
    "year": sayable("year"),
}

Judged = tuple[FaultRate, tuple[tuple[Group, FaultRate], ...]]
"""A fault: its rate in all swings and in each group."""


def most_sure_first(summary: Summary) -> list[Judged]:
    """The faults that were judged at all, by the lower end of their interval; after all others
    those that were judged in few swings."""
    judged = [fault for fault in summary.by_fault if fault[0].interval]
    return sorted(judged, key=lambda f: (f[0].decided < FEW, -(f[0].interval or (0.0,))[0]))


def never_judged(summary: Summary) -> Iterator[FaultRate]:
    """The faults of which no swing tells anything."""
    return (total for total, _ in summary.by_fault if not total.interval)


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


def interval(rate: FaultRate, language: Language = ENGLISH) -> str:
    """The ends of a rate's interval; a dash for none."""
    if rate.interval is None:
        return "-"
    low, high = (language.number(100 * end, 1) for end in rate.interval)
    return f"{low} – {high} %"


def without_swing(group: Group, language: Language = ENGLISH) -> str:
    """In how many more clips no swing was found, in words; empty without any."""
    if not group.no_swing:
        return ""
    return language.many(
        "In {clips} more clip no golf swing was found.",
        "In {clips} more clips no golf swing was found.",
        group.no_swing,
        clips=language.count(group.no_swing),
    )


def passed_over(summary: Summary, language: Language = ENGLISH) -> str:
    """How many files of an archive are no swings, and what makes swings of films; or nothing."""
    counts = summary.passed_over
    if not counts:
        return ""
    ends = [f"{language.count(count)} {language.say(end)}" for end, count in counts.items()]
    told = language.say("Passed over: {files}.", files=language.listed(ends))
    if not summary.films:
        return told
    films = language.say("Films become swings by: python -m service analyse FOLDER.")
    return f"{told} {films}"


def copies(summary: Summary, language: Language = ENGLISH) -> str:
    """How many clips stand in the archive more than once, in words; empty without any."""
    if not summary.copies:
        return ""
    return language.many(
        "{clips} clip is a copy of another, word for word, and counted too",
        "{clips} clips are copies of others, word for word, and counted too",
        summary.copies,
        clips=language.count(summary.copies),
    )


def refused(summary: Summary, language: Language = ENGLISH) -> str:
    """How many inputs could not be read, in words; empty without any."""
    if not summary.refused:
        return ""
    return language.many(
        "{inputs} input could not be read",
        "{inputs} inputs could not be read",
        summary.refused,
        inputs=language.count(summary.refused),
    )
