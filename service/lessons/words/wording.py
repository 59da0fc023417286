"""Numbers, places and lists as a player reads them, in the player's language."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from service.analysis.measures.definition import BODY_PERCENT
from service.analysis.types import Evidence, Grade, Reason, Remark, View
from service.languages import ENGLISH, Language, sayable
from service.lessons.words.filming import PLAYERS_FIX
from service.lessons.words.reasons import Figured, figured

NBSP: Final[str] = "\N{NO-BREAK SPACE}"
HAND_WIDTH: Final[float] = 5.0
"""Breadth of a hand across the knuckles without the thumb, in percent of body height.

Anthropometric surveys have about 4.9 % for women and 5.1 % for men (US Army surveys of 1988 and
2012); the figures are from memory.
"""
_CM: Final[str] = sayable("cm")
_HAND_WIDTHS: Final[str] = sayable("hand-widths")
_RATIO: Final[str] = "times"
_TO_ONE: Final[str] = sayable("to 1")
_DECIMALS: Final[dict[str, int]] = {
    "degrees": 0,
    BODY_PERCENT: 1,
    _CM: 0,
    _HAND_WIDTHS: 1,
    _TO_ONE: 1,
}

_AMOUNT: Final = re.compile(
    r"(?:(-?[\d.]+) )?(±|begins at) (-?[\d.]+) "
    rf"({BODY_PERCENT}|degrees|seconds|times|upper-arm lengths)"
)
"""A value and its error, an error or a threshold alone, as reasons have them."""
_POSITION: Final = re.compile(r"\d+\.\d+")
_NAMED: Final = re.compile(r"(?<!\()\bP(\d+)\b(?![.,]\d)")
"""A position by its number alone, without its name before it."""

PLACES: Final[dict[int, str]] = {
    1: sayable("address"),
    2: sayable("shaft level going back"),
    3: sayable("lead arm level going back"),
    4: sayable("the top"),
    5: sayable("lead arm level coming down"),
    6: sayable("shaft level coming down"),
    7: sayable("impact"),
    8: sayable("shaft level after impact"),
    9: sayable("trail arm level after impact"),
    10: sayable("the finish"),
}
"""P1 to P10 in plain names (common practice)."""
GRADES: Final[dict[Grade, str]] = {
    Grade.MILD: sayable("mild"),
    Grade.MODERATE: sayable("moderate"),
    Grade.MARKED: sayable("marked"),
}
_VIEWS: Final[dict[View, str]] = {
    View.FACE_ON: sayable("face on"),
    View.DOWN_THE_LINE: sayable("down the line"),
}


@dataclass(frozen=True)
class Wording:
    """How things are said to one player.

    Attributes
    ----------
    height_cm
        The player's height, by which lengths are told in centimetres; without it they are told
        in hand-widths.
    as_measured
        Whether lengths are told in percent of body height instead.
    """

    language: Language = ENGLISH
    height_cm: float | None = None
    as_measured: bool = False

    def say(self, text: str, **parts: object) -> str:
        """A text of the language; see :meth:`~service.languages.Language.say`."""
        return self.language.say(text, **parts)

    def amount(self, value: float, unit: str) -> tuple[float, str]:
        """A value in the unit in which the player reads it.

        >>> Wording(height_cm=180.0).amount(5.0, "% of body height")
        (9.0, 'cm')
        >>> Wording().amount(5.0, "% of body height")
        (1.0, 'hand-widths')
        >>> Wording().amount(3.0, "times")
        (3.0, 'to 1')
        """
        if unit == _RATIO:
            return value, _TO_ONE
        if unit != BODY_PERCENT or self.as_measured:
            return value, unit
        if self.height_cm is None:
            return value / HAND_WIDTH, _HAND_WIDTHS
        return value * self.height_cm / 100.0, _CM

    def number(self, value: float, unit: str, more: int = 0) -> str:
        """A value as precisely as its unit deserves, in the unit that the player reads.

        ``more`` decimals are told where two that differ would read the same.

        >>> Wording().number(2.84, "% of body height"), Wording().number(35.2, "degrees")
        ('0.6', '35')
        >>> Wording(as_measured=True).number(2.84, "% of body height")
        '2.8'
        """
        told, own = self.amount(value, unit)
        return self.language.number(told, decimals(own) + more)

    def unit(self, unit: str) -> str:
        """The unit that the player reads in place of a measure's own."""
        return self.say(self.amount(0.0, unit)[1])

    def with_unit(self, value: float, unit: str) -> str:
        """A value in words.

        >>> Wording().with_unit(35.2, "degrees")
        '35 degrees'
        >>> Wording(height_cm=200.0).with_unit(3.0, "% of body height")
        '6 cm'
        """
        return f"{self.number(value, unit)} {self.unit(unit)}"

    def short(self, value: float, unit: str) -> str:
        r"""A value where there is little room, its unit on the same line.

        >>> Wording().short(37.6, "degrees"), Wording().short(2.0, "times")
        ('38°', '2.0\xa0to 1')
        """
        if unit == "degrees":
            return f"{self.number(value, unit)}°"
        return f"{self.number(value, unit)}{NBSP}{self.unit(unit)}"

    def aim(self, evidence: Evidence) -> str:
        """What a value should come to for a fault to be gone.

        >>> Wording().aim(Evidence("gap", "Growth", "% of body height", 2, 0.5, 0.0, "above", ""))
        '0 or less'
        >>> Wording().aim(Evidence("tempo", "Tempo", "times", 1.8, 0.1, 2.2, "below", ""))
        'at least 2.2 to 1'
        """
        above = evidence.direction == "above"
        if evidence.threshold == 0.0:
            return self.say("0 or less") if above else self.say("more than 0")
        bound = self.with_unit(evidence.threshold, evidence.unit)
        if above:
            return self.say("at most {amount}", amount=bound)
        return self.say("at least {amount}", amount=bound)

    def place(self, position: float) -> str:
        """A position as a player reads it.

        >>> Wording().place(4.0), Wording().place(6.4)
        ('the top (P4)', 'just after shaft level coming down (P6.4)')
        """
        number = min(int(position), 10)
        place, past = self.say(PLACES[number]), position - number
        if past == 0.0:
            return f"{place} (P{number})"
        exact = self.language.number(position, 1)
        if past > 0.5 and number < 10:
            return self.say(
                "just before {place} (P{number})", place=self.say(PLACES[number + 1]), number=exact
            )
        return self.say("just after {place} (P{number})", place=place, number=exact)

    def explained(self, text: str, before: str = "") -> str:
        """A text with the name of each position that it and what was told before give by number.

        >>> Wording().explained("Stop at P8, and hold P8.")
        'Stop at P8 (shaft level after impact), and hold P8.'
        >>> Wording().explained("Stop at P5.", before="To lead arm level (P5).")
        'Stop at P5.'
        """
        told = {number for number in PLACES if f"P{number}" in _words_of(before)}
        told |= {number for number in PLACES if f"(P{number})" in text}

        def named(found: re.Match[str]) -> str:
            number = int(found[1])
            if number in told or number not in PLACES:
                return found[0]
            told.add(number)
            return f"{found[0]} ({self.say(PLACES[number])})"

        return _NAMED.sub(named, text)

    def view(self, view: View) -> str:
        """A view as one would say it."""
        return self.say(_VIEWS[view])

    def views(self, views: Sequence[View]) -> str:
        """Views as one would say them, any of which will do."""
        return self.language.listed([self.view(view) for view in views], either=True)

    def views_in(self, text: str) -> str:
        """The views that an English text names.

        >>> Wording().views_in("This can only be seen face on.")
        'face on'
        """
        return self.views([view for view, words in _VIEWS.items() if words in text])

    def titles(self, titles: Sequence[str]) -> str:
        """Titles listed in the middle of a sentence."""
        return self.language.listed([self.language.in_sentence(title) for title in titles])

    def reason(self, reason: Reason) -> str:
        """Why something could not be told, values as the player reads them.

        >>> Wording().reason(Reason("x", "Travel: 5.9 ± 1.2 % of body height is too uncertain."))
        'Travel: 1.2 ± 0.2 hand-widths is too uncertain.'
        """
        told = self.language.by_code("reason", reason.code, reason.text)
        found = figured(reason)
        if told == reason.text and (found is None or "limit" not in found.parts):
            return _AMOUNT.sub(self._as_read, told)
        if found is None or (told != reason.text and self.say(found.form) == found.form):
            return told  # without the figures
        side = f"{self.say(found.side)}: " if found.side else ""
        told = self.fill(found.form, found.parts)
        return f"{side}{told} {self.why(found, reason.code)}".rstrip()

    def why(self, found: Figured, code: str) -> str:
        """Why a position that a reason names was not found; empty where it doesn't say."""
        return self.language.by_code("reason", code, found.why) if found.why else ""

    def fill(self, form: str, parts: Mapping[str, str]) -> str:
        """A text with the parts of a reason."""
        more = self._alike(parts)
        return self.say(form, **{name: self._part(name, parts, more) for name in parts})

    def _alike(self, parts: Mapping[str, str]) -> bool:
        """Whether an error and the limit that it is beyond would read the same.

        >>> text = "Turn: 73.2 ± 8.3 degrees is too uncertain to judge; it takes less than ± 8.0 "
        >>> Wording().reason(Reason("too_uncertain", text + "degrees."))
        'Turn: 73.2 ± 8.3 degrees is too uncertain to judge; it takes less than ± 8.0 degrees.'
        """
        if not {"error", "limit", "unit"} <= parts.keys():
            return False
        limit, unit = parts["limit"].split(" ", 1)
        return self.number(float(parts["error"]), unit) == self.number(float(limit), unit)

    def _as_read(self, found: re.Match[str]) -> str:
        value, sign, amount, unit = found.groups()
        told = f"{sign} {self.with_unit(float(amount), unit)}"
        return told if value is None else f"{self.number(float(value), unit)} {told}"

    def _part(self, name: str, parts: Mapping[str, str], more: bool) -> str:
        """A part of a reason in the player's language."""
        text, unit = parts[name], parts.get("unit")
        match name:
            case "value" | "error":
                return self.number(float(text), unit, more) if unit else self._numbers(text)
            case "limit":
                amount, unit = text.split(" ", 1)
                return f"{self.number(float(amount), unit, more)} {self.unit(unit)}"
            case "threshold":
                amount, unit = text.split(" ", 1)
                return self.with_unit(float(amount), unit)
            case "unit":
                return self.unit(text)
            case "measure":
                return self.say(text)
            case "points":
                return ", ".join(map(self.say, text.split(", ")))
            case "view" | "views" | "others":
                return self.views_in(text)
            case _:
                return self._numbers(text)

    def _numbers(self, text: str) -> str:
        """A text with the decimals of its numbers as the language writes them."""
        return _POSITION.sub(lambda found: found[0].replace(".", self._decimal_point), text)

    @property
    def _decimal_point(self) -> str:
        return self.language.number(0.5, 1)[1]

    def remark(self, remark: Remark) -> str:
        """What is to be said of the footage."""
        return self.language.by_code("remark", remark.code, remark.text)

    def fix(self, remark: Remark) -> str:
        """What whoever films, or sends the points, should change."""
        return self.language.by_code("fix", remark.code, remark.fix)

    def players_fix(self, remark: Remark) -> str:
        """What the player can do about it, without the names of what a program sends."""
        if remark.code in PLAYERS_FIX:
            return self.say(PLAYERS_FIX[remark.code])
        return self.fix(remark)


def _words_of(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", text))


def decimals(unit: str) -> int:
    """How many decimals a value in a unit deserves."""
    return _DECIMALS.get(unit, 2)


def sentence(text: str) -> str:
    """A text with a capital at its start and the rest as it is.

    >>> sentence("the lesson of 1 May 2025 against this one")
    'The lesson of 1 May 2025 against this one'
    """
    return text[:1].upper() + text[1:]


IN_ENGLISH: Final = Wording()
"""For a player of unknown height who reads English."""
