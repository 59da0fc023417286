"""What could not be judged, put together by what to film so that it can."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from service.analysis.types import Reason
from service.lessons.rates import film_instead
from service.lessons.telling.wording import Wording, sentence

_SAY_IT_THEMSELVES: Final = frozenset({"frame_rate", "not_reached", "rehearsal"})
"""Reasons that say what to film, or that no film would change."""

Unjudged = list[tuple[str, list[tuple[str, str]]]]
"""What to film, with the faults and why for each reason."""


def unjudged(cases: Iterable[tuple[str, Reason]], wording: Wording) -> Unjudged:
    """Faults by title and why they could not be judged, alike ones told together.

    >>> view = Reason("view", "The clip is face on.")
    >>> unjudged([("One fault", view), ("Another", view)], Wording())
    [('Film face-on and down the line.', [('One fault and another', 'The clip is face on.')])]
    """
    by_advice: dict[str, dict[str, list[str]]] = {}
    for title, reason in cases:
        told = by_advice.setdefault(_advice(reason.code, wording), {})
        told.setdefault(wording.reason(reason), []).append(title)
    return [
        (advice, [(sentence(wording.titles(titles)), why) for why, titles in told.items()])
        for advice, told in by_advice.items()
    ]


def _advice(code: str, wording: Wording) -> str:
    """What to film so that it can be judged, where the reason's own sentence doesn't say it."""
    advice = None if code in _SAY_IT_THEMSELVES else film_instead(code)
    return wording.say(advice) if advice else ""
