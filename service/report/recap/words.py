"""What the page calls things: verdicts, grades, roles, how sure and how much."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from markupsafe import Markup

from service.analysis.types import (
    Grade,
    Intent,
    Measurement,
)
from service.languages import Language, sayable
from service.lessons import (
    FaultChange,
    Length,
    MeasureChange,
    Outcome,
    Verdict,
    against_asked,
)
from service.lessons.words.wording import Wording
from service.report.clubs import CLUB_NAMES
from service.report.progress import draw_progress, in_words
from service.report.vague import is_vague

_CLEAR: Final[float] = 0.85
"""Confidence from which a finding is called clear; a judgement."""

_ALL_KEPT: Final[float] = 0.95
"""Share of the rehearsal's change from which all of it is said to be kept."""

_VERDICTS: Final[dict[Verdict, str]] = {
    Verdict.BETTER: sayable("▲ better"),
    Verdict.WORSE: sayable("▼ worse"),
    Verdict.CHANGED: sayable("◆ changed"),
    Verdict.NO_DETECTABLE_CHANGE: sayable("= no detectable change"),
    Verdict.NOT_COMPARABLE: sayable("? not comparable"),
}

_OUTCOMES: Final[dict[Outcome, str]] = {
    Outcome.HOLDS: sayable("✓ kept at full speed"),
    Outcome.LOST_AT_FULL_SPEED: sayable("✗ not kept at full speed"),
    Outcome.NOT_CHANGED_IN_REHEARSAL: sayable("– not changed in the rehearsal"),
    Outcome.CANNOT_TELL: sayable("? can't tell"),
}

LENGTHS: Final[dict[Length, str]] = {
    Length.AS_ASKED: sayable("as asked"),
    Length.LONGER: sayable("longer than asked"),
    Length.SHORTER: sayable("shorter than asked"),
    Length.CANNOT_TELL: sayable("can't tell"),
}

GRADES: Final[dict[Grade, str]] = {
    Grade.MILD: sayable("Mild"),
    Grade.MODERATE: sayable("Moderate"),
    Grade.MARKED: sayable("Marked"),
}

_INTENTS: Final[dict[Intent, str]] = {
    Intent.FULL_SPEED: sayable("full speed"),
    Intent.REHEARSAL: sayable("slow rehearsal"),
}

_ROLES: Final[dict[str, str]] = {
    "before": sayable("before"),
    "after": sayable("after"),
    "rehearsal": sayable("rehearsal"),
    "reference": sayable("reference"),
    "other": sayable("other"),
}


def filters(wording: Wording) -> dict[str, Any]:
    """What the template calls to say things to this player."""
    say, language = wording.say, wording.language
    return {
        "say": say,
        "word": wording,
        "sure": lambda confidence: sure(confidence, language),
        "clear": lambda confidence: say(_clear(confidence)),
        "signed": lambda value, unit: _signed(value, unit, wording),
        "chart": lambda each: Markup(draw_progress(each.fault, each.measure, wording)),
        "trend": lambda fault: in_words(fault, wording),
        "kept": lambda share: share_kept(share, language),
        "verdict": lambda verdict: say(_VERDICTS[verdict]),
        "length": lambda stopped: say(LENGTHS[against_asked(stopped)]),
        "outcome": lambda outcome: say(_OUTCOMES[outcome]),
        "grade": lambda grade: say(GRADES[grade]),
        "intent": lambda intent: say(_INTENTS[intent]),
        "role": lambda role: say(_ROLES[role]),
        "club": lambda club: say(CLUB_NAMES[club]),
        "tells": tells_something,
        "too_vague": lambda measures: _too_vague(measures, wording),
        "between": lambda at: _between(at, language),
    }


def sure(confidence: float, language: Language) -> str:
    """A confidence in whole percent, never as a certainty.

    >>> from service.languages import ENGLISH
    >>> sure(0.999, ENGLISH), sure(0.87, ENGLISH)
    ('over 99 % sure', '87 % sure')
    """
    if confidence >= 0.995:
        return language.say("over 99 % sure")
    return language.say("{percent} % sure", percent=language.number(100.0 * confidence, 0))


def tells_something(measurement: Measurement) -> bool:
    """Whether there is a value, and one that is surer than that it could be nearly any.

    >>> from dataclasses import replace
    >>> bent = Measurement("bend", "Bend", "degrees", "P8", 17.3, 48.0)
    >>> tells_something(bent), tells_something(replace(bent, uncertainty=9.0))
    (False, True)
    """
    name, unit, uncertainty = measurement.name, measurement.unit, measurement.uncertainty
    return measurement.value is not None and not is_vague(name, unit, uncertainty)


def _between(at: str, language: Language) -> str:
    """Where a measure is taken.

    >>> from service.languages import ENGLISH
    >>> _between("P7.5-P8", ENGLISH)
    'P7.5 – P8'
    """
    numbers = (end.removeprefix("P") for end in at.split("-"))
    return " – ".join(
        f"P{language.number(float(number), len(number.partition('.')[2]))}" for number in numbers
    )


def _too_vague(measures: Sequence[Measurement], wording: Wording) -> str:
    """Titles of those that have a value, but one that tells nothing, each once with its places."""
    places: dict[str, list[str]] = {}
    for measure in measures:
        if measure.value is not None and not tells_something(measure):
            places.setdefault(measure.title, []).append(_between(measure.at, wording.language))
    say = wording.language.in_sentence
    titles = [f"{say(title)} ({', '.join(at)})" for title, at in places.items()]
    return wording.language.listed(titles)


def _clear(confidence: float) -> str:
    """A confidence as a player reads it.

    >>> _clear(0.95), _clear(0.7)
    ('clearly there', 'likely there')
    """
    return sayable("clearly there") if confidence >= _CLEAR else sayable("likely there")


def leading(change: FaultChange) -> MeasureChange:
    """The measure that tells the change: the first that did change as the fault did."""
    return next((m for m in change.measures if m.verdict is change.verdict), change.measures[0])


def _signed(value: float, unit: str, wording: Wording) -> str:
    """A change with its sign, unless it is none in what is told.

    >>> [_signed(value, "times", Wording()) for value in (0.31, -0.31, 0.01)]
    ['+0.3', '−0.3', '0.0']
    """
    told = wording.number(value, unit)
    return f"+{told}" if value > 0.0 and told != wording.number(0.0, unit) else told


def share_kept(share: float | None, language: Language) -> str:
    """How much of the rehearsal's change is there at full speed.

    >>> from service.languages import ENGLISH
    >>> [share_kept(share, ENGLISH) for share in (1.06, 0.52, -0.1, None)]
    ['all of it', '52 %', 'nothing', '–']
    """
    if share is None:
        return "–"
    if share >= _ALL_KEPT:
        return language.say("all of it")
    if share < 0.005:
        return language.say("nothing")
    return f"{language.number(100.0 * share, 0)} %"
