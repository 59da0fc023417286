"""What a recap says of a lesson."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from xml.etree import ElementTree

import pytest

from service.analysis.types import (
    Finding,
    Intent,
    Reason,
    Status,
    StoppedAt,
    SwingAnalysis,
    View,
)
from service.languages import ENGLISH
from service.lessons import Outcome, Part, Verdict
from service.records import Role
from service.report.progress import draw_progress
from service.report.recap import render_html
from service.report.recap.words import share_kept, sure
from service.use_cases.recap import recap_of
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    clocked,
    judged_by,
    measured,
    no_swing,
    present,
    rehearsed,
    swing,
    unseen,
)
from tests.report.parsed import Page
from tests.report.visits import visit

SVG = "{http://www.w3.org/2000/svg}"


def test_without_before_and_after_the_last_visit_is_held_against_this_one() -> None:
    found, gone = swing(findings=[present("chest_stall")]), swing(findings=[absent("chest_stall")])
    first = visit((Role.OTHER, found), day=date(2025, 4, 1))
    recap = recap_of("Ada", [first, visit((Role.OTHER, gone))])
    assert recap.compared == "the lesson of 1 April 2025 against this one"
    assert recap.sides == ("Last time", "This time")
    (comparison,) = recap.comparisons
    change = next(f for f in comparison.faults if f.fault == "chest_stall")
    assert (change.before.status, change.after.status) == (Status.PRESENT, Status.ABSENT)


def test_what_neither_side_has_is_neither_drawn_nor_charted_as_changed() -> None:
    name = "arms_lift_at_top"

    def one_sign(rise: float, status: Status) -> SwingAnalysis:
        measures = [measured("lead_arm_elevation_gained", rise), measured("chest_turn_gained", 29)]
        return swing(findings=[replace(absent(name), status=status)], measures=measures)

    before, after = one_sign(20.0, Status.ABSENT), one_sign(80.0, Status.UNCERTAIN)
    recap = recap_of("Ada", [visit((Role.BEFORE, before), (Role.AFTER, after))])
    (comparison,) = recap.comparisons
    (change,) = (f for f in comparison.faults if f.fault == name)
    assert change.verdict is Verdict.WORSE
    assert recap.changes == recap.pictures == recap.charts == ()


def test_what_changed_is_pictured_in_swings_of_which_it_was_told() -> None:
    name = "upper_body_drift"
    measure = DEFINITIONS[name].criteria[View.FACE_ON][0].measure.name

    def filmed(finding: Finding, drift: float) -> SwingAnalysis:
        at = clocked([0.1 * n for n in range(1, 11)], 60.0)
        found = swing(findings=[finding], measures=[measured(measure, drift, 0.3)])
        return replace(found, positions=at.positions, coordinate=at.coordinate, times=at.times)

    found, gone = filmed(present(name), 9.0), filmed(absent(name), 1.0)
    vague = [filmed(unseen(name, "too_uncertain"), drift) for drift in (9.2, 1.2)]
    before = ((Role.BEFORE, found), (Role.BEFORE, vague[0]))
    swings = (*before, (Role.AFTER, gone), (Role.AFTER, vague[1]))
    (pictured,) = recap_of("Ada", [visit(*swings)]).pictures
    assert (pictured.before, pictured.after) == ("2025-05-20 0", "2025-05-20 2")


def test_a_first_lesson_without_roles_compares_nothing_but_still_tells_the_keys() -> None:
    recap = recap_of("Ada", [visit((Role.OTHER, swing(findings=[present("chest_stall")])))])
    assert recap.compared is None
    assert recap.comparisons == recap.transfers == recap.charts == ()
    assert [p.finding.fault for p in recap.story.priorities] == ["chest_stall"]


def test_views_that_only_one_side_has_are_not_compared() -> None:
    before = swing(findings=[present("chest_stall")])
    after = swing(findings=[absent("chest_stall")], view=View.DOWN_THE_LINE)
    recap = recap_of("Ada", [visit((Role.BEFORE, before), (Role.AFTER, after))])
    assert recap.compared is None
    assert recap.comparisons == ()


@pytest.mark.parametrize("swings", [[], [(Role.BEFORE, no_swing())]])
def test_a_lesson_without_a_swing_says_so(swings: Sequence[tuple[Role, SwingAnalysis]]) -> None:
    text = Page(render_html(recap_of("Ada", [visit(*swings)]), {})).text
    none = "No golf swing at full speed was found" if swings else "No swing of this lesson"
    assert none in text
    assert "No fault was found" not in text
    assert "Too little could be judged" not in text
    assert "Film a whole swing at full speed" in text
    for _, analysis in swings:
        assert analysis.reason is not None
        assert analysis.reason.text in text


def test_a_lesson_of_rehearsals_alone_is_not_told_to_have_no_swing() -> None:
    slow = replace(swing(findings=[present("chest_stall")]), intent=Intent.REHEARSAL)
    text = Page(render_html(recap_of("Ada", [visit((Role.REHEARSAL, slow))]), {})).text
    assert "Only slow rehearsals were filmed" in text
    assert "No golf swing" not in text


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
        assert recap.transfers == ()
        assert recap.film_next[0] == "After the slow rehearsal film a swing at full speed too."
        undrawn = replace(recap, pictures=(), strip=None)
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
    ((_, transfer),) = recap.transfers
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
    page = render_html(replace(recap, pictures=(), strip=None), {})
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


def test_a_lesson_charts_its_start_and_its_end_apart() -> None:
    long = DEFINITIONS["long_backswing"]
    bad, good = (judged_by(long, View.FACE_ON, value, 1.0) for value in (175.0, 140.0))
    recap = recap_of("Ada", [visit((Role.BEFORE, bad), (Role.AFTER, good))])
    (chart,) = recap.charts
    assert [(p.part, p.estimate.value) for p in chart.measure.points] == [
        (Part.START, 175.0),
        (Part.END, 140.0),
    ]
    said = [
        t.text
        for t in ElementTree.fromstring(draw_progress(chart.fault, chart.measure)).iter(
            f"{SVG}text"
        )
    ]
    assert said.count("start") == said.count("end") == 1


def test_a_lesson_measured_too_vaguely_is_left_out_of_the_chart() -> None:
    long = DEFINITIONS["long_backswing"]
    days = [date(2025, 4, day) for day in (1, 8, 15)]
    told = [judged_by(long, View.FACE_ON, *value) for value in ((175.0, 1.0), (140.0, 1.0))]
    vague = judged_by(long, View.FACE_ON, 150.0, 60.0)
    swings = [told[0], vague, told[1]]
    recap = recap_of(
        "Ada", [visit((Role.OTHER, s), day=d) for s, d in zip(swings, days, strict=True)]
    )
    (chart,) = recap.charts
    assert [p.estimate.value for p in chart.measure.points] == [175.0, 140.0]


def test_a_sentence_keeps_its_capitals() -> None:
    found = judged_by(DEFINITIONS["long_backswing"], View.FACE_ON, 175.0, 1.0)
    first = visit((Role.OTHER, found), day=date(2025, 5, 1))
    recap = recap_of("Ada", [first, visit((Role.OTHER, found))])
    text = Page(render_html(replace(recap, strip=None, pictures=()), {})).text
    assert "The lesson of 1 May 2025 against this one" in text
    assert "1 may" not in text


def test_no_more_than_all_is_kept_at_full_speed() -> None:
    assert [share_kept(share, ENGLISH) for share in (1.06, 0.96, 0.5, -0.2, None)] == [
        "all of it",
        "all of it",
        "50 %",
        "nothing",
        "–",
    ]


@pytest.mark.parametrize(
    ("confidence", "told"), [(1.0, "over 99 % sure"), (0.9949, "99 % sure"), (0.6, "60 % sure")]
)
def test_no_confidence_is_told_as_certain(confidence, told):
    assert sure(confidence, ENGLISH) == told


def test_backswings_asked_to_stop_are_told_against_what_was_done() -> None:
    stops = (
        StoppedAt(3.5, 3.52, 0.1, 80, 1.3),
        StoppedAt(3.5, 3.94, 0.12, 80, 1.3),
        StoppedAt(3.5, 3.1, 0.1, 80, 1.3),
        None,
        StoppedAt(3.5, reason=Reason("points_not_seen", "The lead wrist is not seen.")),
    )
    told = [(Role.OTHER, replace(no_swing(), stopped_at=stop)) for stop in stops]
    recap = recap_of("Ada", [visit(*told)])
    assert [number for number, _ in recap.lengths] == [1, 2, 3, 5]
    text = Page(render_html(recap, {})).text
    assert "1 P3.5 P3.5, as asked" in text
    assert "2 P3.5 P3.9, longer than asked" in text
    assert "3 P3.5 P3.1, shorter than asked" in text
    assert "5 P3.5 The lead wrist is not seen." in text
    silent = recap_of("Ada", [visit((Role.OTHER, no_swing()))])
    assert "How long your backswing was" not in Page(render_html(silent, {})).text
