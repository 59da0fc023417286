"""Numbers and lists as a player reads them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from service.analysis.types import Evidence, View


def with_unit(value: float, unit: str) -> str:
    """A value in words.

    >>> with_unit(2.84, "% of body height"), with_unit(35.2, "degrees"), with_unit(2.2, "times")
    ('2.8 % of body height', '35 degrees', '2.2 times')
    """
    return f"{number(value, unit)} {unit}"


def number(value: float, unit: str) -> str:
    """A value as precisely as its unit deserves."""
    return f"{value:.{decimals(unit)}f}".removesuffix(".0")


def aim(evidence: Evidence) -> str:
    """What a value should come to for a fault to be gone.

    >>> aim(Evidence("gap", "Growth", "% of body height", 2.0, 0.5, 0.0, "above", ""))
    '0 or less'
    >>> aim(Evidence("tempo", "Tempo", "times", 1.8, 0.1, 2.2, "below", ""))
    'at least 2.2 times'
    """
    if evidence.threshold == 0.0:
        return "0 or less" if evidence.direction == "above" else "more than 0"
    bound = "at most" if evidence.direction == "above" else "at least"
    return f"{bound} {with_unit(evidence.threshold, evidence.unit)}"


def place_in_words(position: float) -> str:
    """A position as a player reads it.

    >>> place_in_words(4.0), place_in_words(6.4)
    ('the top (P4)', 'just after shaft level coming down (P6.4)')
    """
    number = min(int(position), 10)
    place, past = PLACES[number], position - number
    if past == 0.0:
        return f"{place} (P{number})"
    if past > 0.5 and number < 10:
        return f"just before {PLACES[number + 1]} (P{position:.1f})"
    return f"just after {place} (P{position:.1f})"


def decimals(unit: str) -> int:
    """How many decimals a value in a unit deserves."""
    return _DECIMALS.get(unit, 2)


def listed(words: Sequence[str]) -> str:
    """Words as a list.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    return " and ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)


def views_in_words(views: Sequence[View]) -> str:
    """Views as one would say them."""
    return " or ".join(view.value.replace("_", " ") for view in views)


def uncapitalised(text: str) -> str:
    """A title for the middle of a sentence."""
    return text[:1].lower() + text[1:]


_DECIMALS: Final[dict[str, int]] = {"degrees": 0, "% of body height": 1, "times": 1}
PLACES: Final[dict[int, str]] = {
    1: "address",
    2: "shaft level going back",
    3: "lead arm level going back",
    4: "the top",
    5: "lead arm level coming down",
    6: "shaft level coming down",
    7: "impact",
    8: "shaft level after impact",
    9: "trail arm level after impact",
    10: "the finish",
}
"""P1 to P10 in plain names (common practice)."""
