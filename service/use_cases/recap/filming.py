"""What to film next time, and what is to be said of the footage."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from typing import Final

from service.analysis.faults import CATALOGUE
from service.analysis.types import Finding, Level, Reason, Remark, Status, View
from service.languages import sayable
from service.lessons.words.filming import NOT_BY_FILMING, PLAYERS_FIX
from service.lessons.words.reasons import figured
from service.lessons.words.wording import Wording
from service.report.unjudged import advice
from service.use_cases.recap.visits import MOST_SWINGS, Visit, view_of

_MOST_TO_FILM: Final[int] = 3
_WHOLE: Final[str] = sayable(
    "Film a whole swing at full speed, from standing still at address to the finish."
)
_AFTER_REHEARSING: Final[str] = sayable("After the slow rehearsal film a swing at full speed too.")
_TOO: Final[str] = sayable(
    "Film {view} too: {some} of the {all} faults can only be seen from there."
)
_AT_THE_END: Final[str] = sayable(
    "At the end of the lesson film {view} too: {some} of the {all} faults can only be seen from "
    "there."
)
_REASONS_BEHIND: Final[Mapping[str, tuple[str, ...]]] = {
    "clip_starts_late": ("clip_starts_late", "position_inferred"),
    "clip_stops_early": ("clip_stops_early",),
    "low_frame_rate": ("frame_rate",),
    "plays_slow": ("times_off",),
    "plays_fast": ("times_off",),
    "plays_unevenly": ("times_off",),
}
"""By the code of a remark, the reasons for which faults are not judged that it is the cause of;
most remarks and reasons have one code."""


def film_next(visit: Visit, settled: Sequence[Finding], wording: Wording) -> tuple[str, ...]:
    """Full speed where the lesson ended with a rehearsal, what the views disagree on, then what
    lets most faults be judged that were not.

    That is the view that was missing, what the footage lacked and what faults were not judged for;
    where no view was missing the two are asked for again last.
    """
    seen = {view_of(s) for s in visit.final()}
    if not seen:
        return (wording.say(_WHOLE), *_fixes(visit, {}, wording))[:_MOST_TO_FILM]
    torn = [f.title for f in settled if f.reason and f.reason.code == "one_side_only"]
    wanted = _helping_most(visit, settled, seen, wording)
    if torn:
        told = wording.say(
            "Film face on and down the line again: one side shows {faults}, the other does not.",
            faults=wording.titles(torn),
        )
        wanted.insert(0, told)
    elif len(seen) == len(View):
        wanted.append(
            wording.say(
                "Film face on and down the line again, so that the lessons can be compared."
            )
        )
    if visit.ends_rehearsing:
        wanted.insert(0, wording.say(_AFTER_REHEARSING))
    return tuple(wanted[:_MOST_TO_FILM])


def _helping_most(
    visit: Visit, settled: Sequence[Finding], seen: Collection[View | None], wording: Wording
) -> list[str]:
    """What to film otherwise, each with as many faults as it helps, the most first."""
    untold = [f.reason for f in settled if f.status is Status.NOT_ASSESSABLE and f.reason]
    begun = {view_of(s) for s in visit.full_speed()}
    helped = Counter(_missing_views(seen, begun, wording))
    helped.update(_fixes(visit, Counter(map(_cause, untold)), wording))
    remarked = {"view", *(code for remark in remarks_of(visit) for code in _behind(remark))}
    helped.update(advice(reason, wording) for reason in untold if _cause(reason) not in remarked)
    helped.pop("", None)
    return [told for told, _ in helped.most_common()]


def _cause(reason: Reason) -> str:
    """The code of a reason, or of the remark that feet alone which are not seen have."""
    told = figured(reason) if reason.code == "points_not_seen" else None
    points = told.parts["points"].split(", ") if told else []
    feet = points and all(point.endswith(("heel", "toe")) for point in points)
    return "feet_not_seen" if feet else reason.code


def _missing_views(
    seen: Collection[View | None], begun: Collection[View | None], wording: Wording
) -> dict[str, int]:
    """Views from which the last swings were not seen, those too from which earlier ones were."""
    missing = {v: sum(d.views == (v,) for d in CATALOGUE.values()) for v in View if v not in seen}
    return {
        wording.say(
            _AT_THE_END if view in begun else _TOO,
            view=wording.view(view),
            some=some,
            all=len(CATALOGUE),
        ): some
        for view, some in missing.items()
    }


def _fixes(visit: Visit, counts: Mapping[str, int], wording: Wording) -> Counter[str]:
    """What the remarks on the footage ask to film, with how many faults were not judged for it."""
    helped: Counter[str] = Counter()
    for remark in remarks_of(visit):
        if PLAYERS_FIX.get(remark.code) != NOT_BY_FILMING:
            of_it = sum(counts.get(code, 0) for code in _behind(remark))
            helped[wording.players_fix(remark)] += of_it
    return helped


def _behind(remark: Remark) -> tuple[str, ...]:
    return _REASONS_BEHIND.get(remark.code, (remark.code,))


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
