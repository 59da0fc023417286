"""Which swings a recap draws, and where."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from service.analysis.faults import CATALOGUE
from service.analysis.types import Status, View
from service.lessons import Comparison, Story
from service.lessons.coach.reviews import as_told
from service.lessons.swings import finding_about
from service.records import KeptSwing
from service.report.pictures.poses import PositionNotShown, frame_of
from service.report.recap import Changes, Pictured
from service.use_cases.recap.visits import Sides, view_of

_MOST_PICTURES: Final[int] = 4


def pictures_of(
    story: Story, changes: Changes, sides: Sides, final: Sequence[KeptSwing]
) -> tuple[Pictured, ...]:
    """The priorities where they show most, then what got better or worse.

    What only the coach sees has none, as a picture would tell the figures that speak against it.
    """
    wanted = [
        (p.finding.fault, p.check.views, p.check.position)
        for p in story.priorities
        if p.finding.evidence or p.finding.review is None
    ]
    wanted += [(c.fault, (view,), _place(c.fault, view)) for view, c in changes.clear]
    pictures: dict[str, Pictured] = {}
    for fault, views, position in wanted:
        pictured = _pictured(fault, views, position, changes.comparisons, sides, final)
        if pictured is not None:
            pictures.setdefault(fault, pictured)
    return tuple(pictures.values())[:_MOST_PICTURES]


def own_pictures(story: Story, final: Sequence[KeptSwing]) -> dict[int, str]:
    """For each key of the coach's own, by its place, the id of the swing to draw it over."""
    pictures = {}
    for placed in story.own_keys:
        views = list(View) if placed.key.view is None else [placed.key.view]
        shown = (_showing(final, view, float(placed.key.position)) for view in views)
        swing = next((found for found in shown if found is not None), None)
        if swing is not None:
            pictures[placed.place] = swing
    return pictures


def most_telling(swings: Sequence[KeptSwing]) -> str | None:
    """The id of the last swing, face-on where there is one: more of it is seen from there."""
    face_on = [s for s in swings if view_of(s) is View.FACE_ON]
    return next((s.id for s in reversed(face_on or swings)), None)


def _place(fault: str, view: View) -> float:
    """Where to look for a fault that need not be there any more."""
    definition = CATALOGUE[fault]
    measure = definition.criteria[view][0].measure
    return definition.shows_at or 0.5 * (measure.start + measure.end)


def _pictured(
    fault: str,
    views: Sequence[View],
    position: float,
    comparisons: Sequence[Comparison],
    sides: Sides,
    final: Sequence[KeptSwing],
) -> Pictured | None:
    for view in views:
        told = _told(fault, view, comparisons)
        after = _showing(sides.after or final, view, position, fault, told.after)
        if after is not None:
            before = _showing(sides.before, view, position, fault, told.before)
            return Pictured(fault, CATALOGUE[fault].title, view, position, before, after)
    return None


class _Sides(NamedTuple):
    """What is said of a fault on the two sides."""

    before: Status
    after: Status


def _told(fault: str, view: View, comparisons: Sequence[Comparison]) -> _Sides:
    """What the comparison says of a fault; without one, it is there."""
    seen = (c for comparison in comparisons if comparison.view is view for c in comparison.faults)
    change = next((c for c in seen if c.fault == fault), None)
    if change is None:
        return _Sides(Status.PRESENT, Status.PRESENT)
    return _Sides(change.before.status, change.after.status)


def _showing(
    swings: Sequence[KeptSwing],
    view: View,
    position: float,
    fault: str | None = None,
    told: Status = Status.PRESENT,
) -> str | None:
    """The id of the last of the swings seen from a view that shows a position.

    Rather the last of those in which what is ``told`` of the fault was found: another would show
    the opposite of what stands beside it.
    """
    shown = [s for s in reversed(swings) if view_of(s) is view and _shows(s, position)]
    alike = (s for s in shown if fault is not None and _status(s, fault) is told)
    chosen = next(alike, shown[0] if shown else None)
    return None if chosen is None else chosen.id


def _shows(swing: KeptSwing, position: float) -> bool:
    try:
        frame_of(swing.analysis, position)
    except PositionNotShown:
        return False
    return True


def _status(swing: KeptSwing, fault: str) -> Status | None:
    finding = finding_about(swing.analysis, fault)
    return None if finding is None else as_told(finding).status
