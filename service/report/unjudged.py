"""What could not be judged, put together by what to film so that it can."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from service.analysis.pose.points import CLUB_POINTS
from service.analysis.types import Reason
from service.lessons.not_judged import BODY_ALONE, CLUB_ALONE, film_instead
from service.lessons.telling.reasons import figured
from service.lessons.telling.wording import Wording, sentence

_SAY_IT_THEMSELVES: Final = frozenset(
    {
        "camera_leans",
        "camera_moves",
        "frame_rate",
        "joints_out_of_order",
        "legs_exchanged",
        "not_reached",
        "picture_squeezed",
        "player_sits",
        "rehearsal",
        "times_off",
    }
)
"""Reasons that say what to film, or that no film would change."""

Unjudged = list[tuple[str, list[tuple[str, str]]]]
"""What to film, with the faults and why for each reason."""


def unjudged(cases: Iterable[tuple[str, Reason]], wording: Wording) -> Unjudged:
    """Faults by title and why they could not be judged, alike ones told together.

    >>> view = Reason("view", "This can only be seen down the line; the clip is face on.")
    >>> [(advice, cases)] = unjudged([("One fault", view), ("Another", view)], Wording())
    >>> advice, cases[0][0]
    ('Film down the line too.', 'One fault and another')
    """
    by_advice: dict[str, dict[str, list[str]]] = {}
    for title, reason in cases:
        told = by_advice.setdefault(_advice(reason, wording), {})
        told.setdefault(wording.reason(reason), []).append(title)
    return [
        (advice, [(sentence(wording.titles(titles)), why) for why, titles in told.items()])
        for advice, told in by_advice.items()
    ]


def _advice(reason: Reason, wording: Wording) -> str:
    """What to film so that it can be judged, where the reason's own sentence doesn't say it."""
    advice = None if reason.code in _SAY_IT_THEMSELVES else film_instead(reason.code)
    if reason.code == "points_not_seen":
        advice = _of_points(reason) or advice
    told = figured(reason) if reason.code == "view" else None
    if told is not None:
        return wording.say("Film {views} too.", views=wording.views_in(told.parts["views"]))
    return wording.say(advice) if advice else ""


def _of_points(reason: Reason) -> str | None:
    """What to do about the points that a reason names, if all are of the club or none is."""
    told = figured(reason)
    names = told.parts["points"].split(", ") if told else []
    of_club = {name.replace(" ", "_") in CLUB_POINTS for name in names}
    if len(of_club) != 1:
        return None
    return CLUB_ALONE if of_club.pop() else BODY_ALONE
