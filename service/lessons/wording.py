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
