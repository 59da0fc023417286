"""What a recap says of a lesson."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import pytest

from service.analysis.types import (
    Intent,
    Reason,
    Status,
    StoppedAt,
    SwingAnalysis,
    View,
)
from service.languages import ENGLISH
from service.records import Role
from service.report.recap import Drawn, render_html
from service.report.recap.words import share_kept, sure
from service.use_cases.recap import recap_of
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    judged_by,
    no_swing,
    present,
    swing,
)
from tests.report.parsed import Page
from tests.report.visits import visit


def test_without_before_and_after_the_last_visit_is_held_against_this_one() -> None:
    found, gone = swing(findings=[present("chest_stall")]), swing(findings=[absent("chest_stall")])
    first = visit((Role.OTHER, found), day=date(2025, 4, 1))
    recap = recap_of("Ada", [first, visit((Role.OTHER, gone))])
    assert recap.changes.compared == "the lesson of 1 April 2025 against this one"
    assert recap.changes.sides == ("Last time", "This time")
    (comparison,) = recap.changes.comparisons
    change = next(f for f in comparison.faults if f.fault == "chest_stall")
    assert (change.before.status, change.after.status) == (Status.PRESENT, Status.ABSENT)


def test_a_first_lesson_without_roles_compares_nothing_but_still_tells_the_keys() -> None:
    recap = recap_of("Ada", [visit((Role.OTHER, swing(findings=[present("chest_stall")])))])
    assert recap.changes.compared is None
    assert recap.changes.comparisons == recap.changes.transfers == recap.drawn.charts == ()
    assert [p.finding.fault for p in recap.story.priorities] == ["chest_stall"]


def test_views_that_only_one_side_has_are_not_compared() -> None:
    before = swing(findings=[present("chest_stall")])
    after = swing(findings=[absent("chest_stall")], view=View.DOWN_THE_LINE)
    recap = recap_of("Ada", [visit((Role.BEFORE, before), (Role.AFTER, after))])
    assert recap.changes.compared is None
    assert recap.changes.comparisons == ()


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


def test_a_sentence_keeps_its_capitals() -> None:
    found = judged_by(DEFINITIONS["long_backswing"], View.FACE_ON, 175.0, 1.0)
    first = visit((Role.OTHER, found), day=date(2025, 5, 1))
    recap = recap_of("Ada", [first, visit((Role.OTHER, found))])
    text = Page(render_html(replace(recap, drawn=Drawn()), {})).text
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
