"""What a recap says of what changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

import pytest

from service.analysis.types import (
    Finding,
    View,
)
from service.languages import language
from service.lessons import Outcome, Verdict
from service.lessons.words.wording import Wording
from service.records import Role
from service.report.recap import Changes, Drawn, render_html
from service.use_cases.recap import recap_of
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
from tests.report.parsed import Page
from tests.report.visits import visit

DRIFT = "upper_body_drift"


def test_a_lesson_that_ends_with_a_rehearsal_says_what_got_better_and_blames_no_full_speed() -> (
    None
):
    drift = DEFINITIONS["upper_body_drift"]
    measure = drift.criteria[View.FACE_ON][0].measure.name
    begun = swing(findings=[present(drift.name)], measures=[measured(measure, 6.0, 0.1)])
    slow = swing(findings=[absent(drift.name)], measures=[measured(measure, 0.5, 0.1)])
    last = visit((Role.AFTER, begun), day=date(2025, 5, 13))
    rehearsed_last = visit((Role.BEFORE, begun), (Role.REHEARSAL, rehearsed(slow)))
    told = ("Got better in the slow rehearsal, at full speed not filmed since", drift.title.lower())
    for visits in ([rehearsed_last], [last, rehearsed_last]):
        recap = recap_of("Ada", visits)
        assert told in recap.news
        assert not any("but not at full speed" in kind for kind, _ in recap.news)
        assert recap.changes.transfers == ()
        assert recap.film_next[0] == "After the slow rehearsal film a swing at full speed too."
        undrawn = replace(recap, drawn=Drawn())
        assert "What changed" in Page(render_html(undrawn, {})).text
    tried = visit((Role.BEFORE, begun), (Role.REHEARSAL, rehearsed(slow)), (Role.AFTER, begun))
    kinds = [kind for kind, _ in recap_of("Ada", [last, tried]).news]
    assert kinds == ["Got better in the slow rehearsal, but not at full speed"]


@pytest.mark.parametrize(
    ("left", "kind"), [(5.5, "Got better"), (8.0, "Got worse")], ids=["some of it", "none"]
)
def test_what_changed_at_full_speed_is_not_told_as_lost_after_the_rehearsal(
    left: float, kind: str
) -> None:
    drift = DEFINITIONS["upper_body_drift"]
    measure = drift.criteria[View.FACE_ON][0].measure.name
    begun, ended = (
        swing(findings=[present(drift.name)], measures=[measured(measure, value, 0.1)])
        for value in (7.0, left)
    )
    slow = swing(findings=[absent(drift.name)], measures=[measured(measure, 0.5, 0.1)])
    told = visit((Role.BEFORE, begun), (Role.REHEARSAL, rehearsed(slow)), (Role.AFTER, ended))
    recap = recap_of("Ada", [told])
    ((_, transfer),) = recap.changes.transfers
    assert transfer.outcome is Outcome.LOST_AT_FULL_SPEED
    assert [each for each, _ in recap.news] == [kind]


def test_a_fault_that_did_not_change_in_the_lesson_is_told_as_still_there() -> None:
    heel = DEFINITIONS["trail_heel_kick"]
    taken = [(c.measure, c.moderate) for c in heel.criteria[View.FACE_ON]]
    measures = [measured(measure.name, value, 0.1) for measure, value in taken]
    same = swing(findings=[present(heel.name)], measures=measures)
    recap = recap_of("Ada", [visit((Role.BEFORE, same), (Role.AFTER, same))])
    told = "Still there, no clear change"
    assert recap.news == ((told, "trail heel kicking up and out"),)


def test_a_fault_of_which_the_views_disagree_is_not_told_as_still_there() -> None:
    name = "trail_heel_kick"
    criteria = DEFINITIONS[name].criteria[View.FACE_ON]
    measures = [measured(each.measure.name, each.moderate, 0.1) for each in criteria]
    seen = swing(findings=[present(name)], measures=measures)
    unseen = swing(findings=[absent(name)], view=View.DOWN_THE_LINE)
    recap = recap_of("Ada", [visit((Role.BEFORE, seen), (Role.AFTER, seen), (Role.AFTER, unseen))])
    assert [finding.fault for finding in recap.uncertain] == [name]
    assert recap.news == (("Found before, can't be told now", "trail heel kicking up and out"),)


@pytest.mark.parametrize(
    ("findings", "told"),
    [
        ((absent, present), "Found now but not before, no clear change"),
        ((present, absent), "Found before but not now, no clear change"),
    ],
)
def test_what_was_found_on_one_side_without_a_clear_change_is_told_as_such(
    findings: Sequence[Callable[[str], Finding]], told: str
) -> None:
    name = "upper_body_drift"
    measure = DEFINITIONS[name].criteria[View.FACE_ON][0].measure.name
    vague = [measured(measure, 5.0, 3.0)]
    before, after = (swing(findings=[find(name)], measures=vague) for find in findings)
    recap = recap_of("Ada", [visit((Role.BEFORE, before), (Role.AFTER, after))])
    assert recap.news == ((told, "upper body drifting off the ball"),)


@pytest.mark.parametrize("view", View)
def test_what_was_gone_and_is_back_is_told_whatever_was_filmed_between(view: View) -> None:
    found, gone = (swing(findings=[f("arms_lift_at_top")]) for f in (present, absent))
    between = swing(findings=[], view=view)
    visits = [
        visit((Role.OTHER, analysis), day=date(2025, 4, day))
        for day, analysis in enumerate((found, gone, between, found), start=1)
    ]
    recap = recap_of("Ada", visits)
    assert ("Was gone and is back", "arms lifting at the top") in recap.news
    page = render_html(replace(recap, drawn=Drawn()), {})
    assert "Was gone and is back" in page
    still = [*visits, visit((Role.OTHER, found), day=date(2025, 4, 5))]
    assert "Was gone and is back" not in dict(recap_of("Ada", still).news)


def test_what_was_gone_when_the_lesson_began_is_told_as_gone_since_last_time() -> None:
    found, gone = (swing(findings=[f("arms_lift_at_top")]) for f in (present, absent))
    first = visit((Role.OTHER, found), day=date(2025, 4, 1))
    second = visit((Role.BEFORE, gone), (Role.AFTER, gone), day=date(2025, 4, 2))
    third = visit((Role.BEFORE, gone), (Role.AFTER, gone), day=date(2025, 4, 3))
    told = ("Gone since last time", "arms lifting at the top")
    assert recap_of("Ada", [first, second]).news == (told,)
    assert recap_of("Ada", [first, second, third]).news == ()


def test_a_fault_that_the_end_of_the_lesson_can_not_tell_is_not_passed_over() -> None:
    heel = "trail_heel_kick"
    start, end = swing(findings=[present(heel)]), swing(findings=[unseen(heel)])
    recap = recap_of("Ada", [visit((Role.BEFORE, start), (Role.AFTER, end))])
    assert ("Found before, can't be told now", "trail heel kicking up and out") in recap.news
    told = recap_of("Ada", [visit((Role.BEFORE, start), (Role.AFTER, start))])
    assert "can't be told" not in " ".join(kind for kind, _ in told.news)


def test_a_fault_of_some_swings_is_told_though_most_are_without_it() -> None:
    heel = "trail_heel_kick"
    kinds = [absent(heel), present(heel), absent(heel), absent(heel)]
    recap = recap_of("Ada", [visit(*((Role.OTHER, swing(findings=[each])) for each in kinds))])
    told = "trail heel kicking up and out (1 of 4)"
    assert recap.news == (("In some swings, not in most", told),)
    assert "No fault was found" not in recap.none_to_work_on
    assert recap.standing.told.findings == {heel: "found in some swings"}


def test_a_fault_that_changed_and_shows_in_some_swings_is_told_once_with_their_number() -> None:
    name = "long_backswing"
    long = DEFINITIONS[name]
    before = [judged_by(long, View.FACE_ON, 180.0, 1.0)] * 3
    after = [judged_by(long, View.FACE_ON, value, 1.0) for value in (166.0, 140.0, 140.0)]
    swings = [(Role.BEFORE, each) for each in before] + [(Role.AFTER, each) for each in after]
    told = dict(recap_of("Ada", [visit(*swings)]).news)
    assert told == {"Got better": "backswing running long (now in 1 of 3 swings)"}
    german = recap_of("Ada", [visit(*swings)], wording=Wording(language("de")))
    assert "(jetzt in 1 von 3 Schwüngen)" in dict(german.news)["Besser geworden"]


def _changes(*sides: tuple[Callable[[str], Finding], float], error: float = 0.1) -> Changes:
    """Those between a swing before the work and one after it, each a finding and its measure."""
    measure = DEFINITIONS[DRIFT].criteria[View.FACE_ON][0].measure.name
    before, after = (
        swing(findings=[find(DRIFT)], measures=[measured(measure, value, error)])
        for find, value in sides
    )
    return recap_of("Ada", [visit((Role.BEFORE, before), (Role.AFTER, after))]).changes


def _kinds(changes: Changes) -> list[str]:
    return [kind for kind, _ in changes.news(Wording())]


def test_what_is_back_is_not_told_as_worse_too() -> None:
    worse = _changes((absent, 1.0), (present, 9.0))
    assert _kinds(worse) == ["Got worse"]
    assert _kinds(replace(worse, returned=(DRIFT,))) == ["Was gone and is back"]


def test_what_got_better_within_the_lesson_is_not_told_as_gone_since_the_last_one() -> None:
    better = _changes((present, 9.0), (absent, 1.0))
    assert _kinds(replace(better, gone=(DRIFT,))) == ["Got better"]


def test_what_some_swings_still_show_is_not_told_as_found_before_alone() -> None:
    lapsed = _changes((present, 5.0), (absent, 5.0), error=3.0)
    assert _kinds(lapsed) == ["Found before but not now, no clear change"]
    shown = replace(lapsed, now_and_then={DRIFT: (1, 3)})
    assert _kinds(shown) == ["In some swings, not in most"]


def test_what_got_better_is_told_as_still_there_unless_that_is_too_close_to_call() -> None:
    better = _changes((present, 12.0), (present, 7.0))
    title = "upper body drifting off the ball"
    assert better.news(Wording()) == (("Got better", f"{title} (still there)"),)
    unsure = replace(better, unsure=frozenset({DRIFT}))
    assert unsure.news(Wording()) == (("Got better", title),)


def test_what_got_worse_from_another_side_is_not_gained() -> None:
    better = _changes((present, 9.0), (absent, 1.0))
    (seen,) = better.comparisons
    worse = tuple(replace(change, verdict=Verdict.WORSE) for change in seen.faults)
    other = replace(seen, view=View.DOWN_THE_LINE, faults=worse)
    assert better.gained == {DRIFT}
    assert replace(better, comparisons=(seen, other)).gained == frozenset()


def test_what_got_better_or_went_is_a_gain_and_what_is_back_is_none() -> None:
    assert _changes((present, 9.0), (absent, 1.0)).won
    none = _changes((absent, 1.0), (absent, 1.0))
    assert not none.won
    assert replace(none, gone=(DRIFT,)).won
    assert not replace(none, returned=(DRIFT,)).won
