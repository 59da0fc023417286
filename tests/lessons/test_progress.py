from datetime import UTC, datetime

import numpy as np
import pytest

from service.analysis.types import Finding, Status, SwingAnalysis, View
from service.lessons import FaultProgress, Lesson, Part, Trend, follow_up
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    judged_by,
    measured,
    present,
    rehearsed,
    swing,
    unseen,
)

LONG = DEFINITIONS["long_backswing"]
CRITERION = LONG.criteria[View.FACE_ON][0]
ARM = CRITERION.measure.name


def day(number: int) -> datetime:
    return datetime(2024, 5, number, tzinfo=UTC)


def lessons(*findings: Finding) -> list[Lesson]:
    return [Lesson(day(k), (swing(findings=[f]),)) for k, f in enumerate(findings, start=1)]


def fault(lessons: list[Lesson], name: str = "long_backswing") -> FaultProgress:
    return next(f for f in follow_up(lessons).faults if f.fault == name)


YES, NO, BLIND = present("long_backswing"), absent("long_backswing"), unseen("long_backswing")


@pytest.mark.parametrize(
    ("seen", "trend", "since"),
    [
        ([NO, NO], Trend.NEVER_SEEN, None),
        ([YES], Trend.NEW, 1),
        ([NO, YES], Trend.NEW, 2),
        ([YES, YES], Trend.PERSISTING, 1),
        ([NO, YES, YES], Trend.PERSISTING, 2),
        ([YES, NO], Trend.GONE, 2),
        ([YES, NO, NO], Trend.GONE, 2),
        ([YES, NO, YES], Trend.RELAPSE, 3),
        ([YES, NO, YES, YES], Trend.RELAPSE, 3),
        ([YES, NO, YES, NO], Trend.GONE, 4),
        ([YES, BLIND, YES], Trend.PERSISTING, 1),
        ([YES, NO, BLIND], Trend.GONE, 2),
        ([BLIND, BLIND], None, None),
    ],
)
def test_the_trend_of_a_fault(seen: list[Finding], trend: Trend | None, since: int | None) -> None:
    found = fault(lessons(*seen))
    assert found.trend is trend
    assert found.since == (None if since is None else day(since))


HEEL = "trail_heel_kick"


def from_views(*seen: tuple[Finding, View]) -> list[Lesson]:
    return [
        Lesson(day(k), (swing(findings=[f], view=view),)) for k, (f, view) in enumerate(seen, 1)
    ]


def test_what_one_view_showed_is_not_gone_because_another_does_not_show_it() -> None:
    found = (present(HEEL), View.FACE_ON)
    other, same = (absent(HEEL), View.DOWN_THE_LINE), (absent(HEEL), View.FACE_ON)
    told = fault(from_views(found, other), HEEL)
    assert (told.trend, told.last_told) == (Trend.NEW, False)
    assert fault(from_views(found, same), HEEL).trend is Trend.GONE
    assert fault(from_views(found, other, same), HEEL).since == day(3)


def test_a_fault_is_gone_only_from_the_side_from_which_it_was_last_found() -> None:
    first, last = (present(HEEL), View.FACE_ON), (present(HEEL), View.DOWN_THE_LINE)
    told = fault(from_views(first, last, (absent(HEEL), View.FACE_ON)), HEEL)
    assert (told.trend, told.last_told) == (Trend.PERSISTING, False)


def test_a_fault_seen_from_one_side_only_in_the_last_lesson_is_not_gone() -> None:
    first = Lesson(day(1), (swing(findings=[present(HEEL)]),))
    both = (
        swing(findings=[present(HEEL)]),
        swing(findings=[absent(HEEL)], view=View.DOWN_THE_LINE),
    )
    told = fault([first, Lesson(day(2), both)], HEEL)
    assert told.points[-1].settled.status is Status.UNCERTAIN
    assert (told.trend, told.last_told) == (Trend.NEW, False)


def test_start_and_end_of_a_lesson_are_two_points() -> None:
    start = Lesson(day(1), arm(170.0), Part.START)
    end = Lesson(day(1), arm(140.0), Part.END)
    told = follow_up([start, end])
    assert [(p.part, p.estimate.value) for p in told.measures[0].points] == [
        (Part.START, 170.0),
        (Part.END, 140.0),
    ]
    (long,) = (f for f in told.faults if f.fault == "long_backswing")
    assert [p.settled.status for p in long.points] == [Status.PRESENT, Status.ABSENT]
    assert long.trend is Trend.GONE


def test_lessons_are_put_in_order() -> None:
    mixed = lessons(YES, NO, YES)[::-1]
    found = fault(mixed)
    assert found.trend is Trend.RELAPSE
    assert [p.date for p in found.points] == [day(1), day(2), day(3)]


def test_a_rehearsal_does_not_make_a_fault_go() -> None:
    first, second = lessons(YES, YES)
    with_rehearsals = Lesson(second.date, (*second.swings, *[rehearsed(swing(findings=[NO]))] * 3))
    assert fault([first, with_rehearsals]).trend is Trend.PERSISTING


def test_a_lesson_of_rehearsals_alone_says_nothing() -> None:
    only = [Lesson(day(1), (rehearsed(swing(findings=[YES])),))]
    assert fault(only).points[0].settled.status is Status.NOT_ASSESSABLE


def arm(*values: float, u: float = 1.0) -> tuple[SwingAnalysis, ...]:
    return tuple(judged_by(LONG, View.FACE_ON, v, u) for v in values)


def test_a_measure_has_a_band_in_every_lesson_in_which_it_was_taken() -> None:
    found = follow_up(
        [
            Lesson(day(1), arm(150.0)),
            Lesson(day(2), (swing(measures=[measured(ARM, None)]),)),
            Lesson(day(3), arm(140.0, 142.0)),
        ]
    )
    (series,) = found.measures
    assert [p.date for p in series.points] == [day(1), day(3)]
    first, last = (p.estimate for p in series.points)
    assert first.band == pytest.approx((150.0 - 1.96, 150.0 + 1.96), abs=1e-4)
    assert last.value == pytest.approx(141.0)
    assert last.uncertainty == pytest.approx(np.sqrt(0.5))


def test_a_player_who_varies_gets_a_wider_band() -> None:
    steady = follow_up([Lesson(day(1), arm(150.0, 150.5, 149.5))]).measures[0]
    varied = follow_up([Lesson(day(1), arm(150.0, 160.0, 140.0))]).measures[0]
    assert varied.points[0].estimate.uncertainty == pytest.approx(10.0 / np.sqrt(3.0))
    assert varied.points[0].estimate.uncertainty > 5.0 * steady.points[0].estimate.uncertainty


def test_the_spread_of_one_lesson_widens_the_band_of_another_with_one_swing() -> None:
    both = follow_up([Lesson(day(1), arm(150.0, 160.0, 140.0)), Lesson(day(2), arm(145.0))])
    assert both.measures[0].points[1].estimate.uncertainty == pytest.approx(10.0)


def test_the_views_are_followed_apart() -> None:
    name = DEFINITIONS["handle_rise"].criteria[View.FACE_ON][0].measure.name
    found = follow_up(
        [Lesson(day(1), tuple(swing(measures=[measured(name, 1.0)], view=v) for v in View))]
    )
    assert [(m.name, m.view) for m in found.measures] == [(name, v) for v in View]
