"""What to film next time, and what is to be said of the footage."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from service.analysis.faults import CATALOGUE
from service.analysis.types import Finding, Level, Remark, View
from service.lessons.telling.wording import Wording
from service.use_cases.recap.visits import MOST_SWINGS, Visit, view_of

_MOST_TO_FILM: Final[int] = 3


def film_next(visit: Visit, settled: Sequence[Finding], wording: Wording) -> tuple[str, ...]:
    """What the views disagree on, the view that was missing, then what the footage lacked.

    Where no view was missing the two are asked for again last.
    """
    seen = {view_of(s) for s in visit.full_speed()}
    wanted = [
        wording.say(
            "Film {view} too: {some} of the {all} faults can only be seen from there.",
            view=wording.view(view),
            some=sum(d.views == (view,) for d in CATALOGUE.values()),
            all=len(CATALOGUE),
        )
        for view in View
        if view not in seen
    ]
    if not seen:
        wanted = [
            wording.say(
                "Film a whole swing at full speed, from standing still at address to the finish."
            )
        ]
    torn = [f.title for f in settled if f.reason and f.reason.code == "one_side_only"]
    if torn:
        told = wording.say(
            "Film face on and down the line again: one side shows {faults}, the other does not.",
            faults=wording.titles(torn),
        )
        wanted.insert(0, told)
    fixes = list(dict.fromkeys(wording.fix(r) for r in remarks_of(visit)))
    if not wanted:
        fixes.append(
            wording.say(
                "Film face on and down the line again, so that the lessons can be compared."
            )
        )
    return (*wanted, *fixes)[:_MOST_TO_FILM]


def remarks_of(visit: Visit) -> tuple[Remark, ...]:
    """The warnings on the footage of a visit, one of a kind."""
    remarks = (r for s in visit.swings for r in s.analysis.quality.remarks)
    return tuple({r.code: r for r in remarks if r.level is Level.WARNING}.values())


def left_out_remarks(lessons: int) -> tuple[Remark, ...]:
    """That so many older lessons are not looked at, if any."""
    if not lessons:
        return ()
    words = "One older lesson is" if lessons == 1 else f"{lessons} older lessons are"
    remark = Remark(
        "older_lessons_left_out",
        Level.INFO,
        f"{words} left out: a recap looks back on {MOST_SWINGS} swings.",
        "The player's progress follows all of them.",
    )
    return (remark,)
