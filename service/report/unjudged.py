"""What could not be judged, put together by what to film so that it can."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from service.analysis.types import Reason
from service.languages import sayable
from service.lessons.words.filming import film_for
from service.lessons.words.reasons import Figured, figured
from service.lessons.words.wording import Wording, sentence

_SAY_IT_THEMSELVES: Final = frozenset(
    {
        "camera_leans",
        "camera_moves",
        "cut_out_coordinates",
        "frame_rate",
        "joints_out_of_order",
        "legs_exchanged",
        "not_reached",
        "picture_squeezed",
        "places_smoothed",
        "player_sits",
        "rehearsal",
        "times_off",
    }
)
"""Reasons that say what to film, or that no film would change."""

_VAGUE: Final[str] = sayable("Measured too vaguely to tell.")
_FIGURES: Final[tuple[tuple[str, str], ...]] = (
    (
        "threshold",
        sayable(
            "{measure}: {value} ± {error} {unit}; the fault begins at {threshold}, less than "
            "± {limit} needed"
        ),
    ),
    ("limit", sayable("{measure}: {value} ± {error} {unit}; less than ± {limit} needed")),
    ("unit", sayable("{measure}: {value} ± {error} {unit}")),
)
"""The figures of one measure without a sentence of their own, by what a reason tells at most."""


class Untold(NamedTuple):
    """Faults that could not be judged for one reason, and the figures of those that have some."""

    titles: str
    why: str
    figures: tuple[str, ...]


Unjudged = list[tuple[str, list[Untold]]]
"""What to film, with the faults and why for each reason."""


def unjudged(cases: Iterable[tuple[str, Reason]], wording: Wording) -> Unjudged:
    """Faults by title and why they could not be judged, alike ones told together.

    >>> view = Reason("view", "This can only be seen down the line; the clip is face on.")
    >>> [(told, cases)] = unjudged([("One fault", view), ("Another", view)], Wording())
    >>> told, cases[0].titles
    ('Film down the line too.', 'One fault and another')
    >>> text = "Tempo: 2.5 ± 0.3 times is too uncertain to judge."
    >>> [(_, [case])] = unjudged([("Haste", Reason("too_uncertain", text))], Wording())
    >>> case.why, case.figures
    ('Measured too vaguely to tell.', ('Tempo: 2.5 ± 0.3 to 1',))
    """
    by_advice: dict[str, dict[str, list[tuple[str, str]]]] = {}
    for title, reason in cases:
        why, figures = _in_short(reason, wording)
        by_why = by_advice.setdefault(advice(reason, wording), {})
        by_why.setdefault(why, []).append((title, figures))
    return [
        (told, [_together(why, alike, wording) for why, alike in by_why.items()])
        for told, by_why in by_advice.items()
    ]


def _together(why: str, alike: list[tuple[str, str]], wording: Wording) -> Untold:
    titles = sentence(wording.titles([title for title, _ in alike]))
    return Untold(titles, why, tuple(figures for _, figures in alike if figures))


def _in_short(reason: Reason, wording: Wording) -> tuple[str, str]:
    """A reason without what differs from fault to fault, and the figures that do."""
    told = figured(reason)
    if told is None or told.side or "measure" not in told.parts:
        return wording.reason(reason), ""
    if reason.code == "too_uncertain":
        form = next(form for part, form in _FIGURES if part in told.parts)
        return wording.say(_VAGUE), wording.fill(form, told.parts)
    if "number" in told.parts and reason.code != "position_inferred":
        return _position_missing(told, reason.code, wording), ""
    return wording.reason(reason), ""


def _position_missing(told: Figured, code: str, wording: Wording) -> str:
    place = wording.place(float(told.parts["number"]))
    missing = sentence(wording.say("{place} was not found.", place=place))
    return f"{missing} {wording.why(told, code)}".rstrip()


def advice(reason: Reason, wording: Wording) -> str:
    """What to film so that it can be judged, where the reason's own sentence doesn't say it."""
    known = None if reason.code in _SAY_IT_THEMSELVES else film_for(reason)
    told = figured(reason) if reason.code == "view" else None
    if told is not None:
        return wording.say("Film {views} too.", views=wording.views_in(told.parts["views"]))
    return wording.say(known) if known else ""
