"""Numbers and lists as a player reads them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from service.analysis.types import View


def with_unit(value: float, unit: str) -> str:
    """A value in words.

    >>> with_unit(2.84, "% of body height"), with_unit(35.2, "degrees"), with_unit(2.2, "times")
    ('2.8 % of body height', '35 degrees', '2.2 times')
    """
    return f"{number(value, unit)} {unit}"


def number(value: float, unit: str) -> str:
    """A value as precisely as its unit deserves."""
    return f"{value:.{decimals(unit)}f}".removesuffix(".0")


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
