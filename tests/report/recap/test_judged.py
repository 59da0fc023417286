"""What a recap says of how much was judged, and of what was not."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from service.analysis.faults import CATALOGUE
from service.analysis.types import (
    Finding,
    Status,
    View,
)
from service.lessons.coach.edits import KeyEdit, KeyWords, RecapEdits
from service.records import Role
from service.report.recap import Drawn, render_html
from service.use_cases.recap import recap_of, settled_findings
from service.use_cases.recap.coached import Coached
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    measured,
    present,
    swing,
    unseen,
)
from tests.report.parsed import Page
from tests.report.visits import visit


def test_where_no_fault_was_found_it_says_how_many_could_be_judged() -> None:
    found = [absent("chest_stall"), absent("handle_rise"), unseen("trail_knee_drive", "view")]
    told = recap_of("Ada", [visit((Role.OTHER, swing(findings=found)))])
    assert (told.judged, told.known) == (2, len(CATALOGUE))


def test_a_fault_found_in_one_of_four_swings_is_no_key() -> None:
    once = [swing(findings=[present("chest_stall", confidence=0.99)])]
    never = [swing(findings=[absent("chest_stall", confidence=0.99)]) for _ in range(3)]
    (finding,) = settled_findings(once + never)
    assert finding.status is Status.ABSENT
    (finding,) = settled_findings(once)
    assert finding.status is Status.PRESENT


def test_why_a_fault_could_not_be_judged_comes_from_the_right_view() -> None:
    wrong, right = unseen("chest_stall", "view"), unseen("chest_stall", "frame_rate")
    (finding,) = settled_findings([swing(findings=[wrong]), swing(findings=[right])])
    assert finding.reason is not None
    assert finding.reason.code == "frame_rate"


def test_a_finding_too_near_to_call_is_told_as_such() -> None:
    torn = Finding(
        "chest_stall", DEFINITIONS["chest_stall"].title, Status.UNCERTAIN, 0.5, 0.55, chance=0.45
    )
    recap = recap_of("Ada", [visit((Role.OTHER, swing(findings=[torn])))])
    assert [f.fault for f in recap.uncertain] == ["chest_stall"]
    assert recap.story.priorities == ()
    without_strip = replace(recap, drawn=Drawn())  # nothing was filmed that could be drawn
    assert (
        f"{torn.title} can't tell Too close to call." in Page(render_html(without_strip, {})).text
    )


def test_a_fault_seen_from_one_side_only_is_neither_a_key_nor_praised_nor_gone() -> None:
    heel = "trail_heel_kick"
    first = visit((Role.OTHER, swing(findings=[present(heel)])), day=date(2025, 4, 1))
    last = visit(
        (Role.OTHER, swing(findings=[present(heel, confidence=0.986)])),
        *[
            (Role.OTHER, swing(findings=[absent(heel, 0.99)], view=View.DOWN_THE_LINE))
            for _ in range(3)
        ],
    )
    recap = recap_of("Ada", [first, last])
    assert recap.story.priorities == recap.story.keep == ()
    text = Page(render_html(replace(recap, drawn=Drawn()), {})).text
    assert "Seen from one side only: found face on, not found down the line." in text
    assert "one side shows trail heel kicking up and out, the other" in recap.film_next[0]
    assert "Possibly there at full speed: trail heel kicking up and out." in text
    assert "No fault was found" not in text
    assert "gone" not in text.lower().replace("it is gone", "")


@pytest.mark.parametrize(("error", "praised"), [(3.0, False), (0.2, True)])
def test_what_was_there_before_is_praised_only_where_it_clearly_got_better(
    error: float, praised: bool
) -> None:
    name = "upper_body_drift"
    measure = DEFINITIONS[name].criteria[View.FACE_ON][0].measure.name
    before = swing(findings=[present(name)], measures=[measured(measure, 6.0, error)])
    after = swing(findings=[absent(name)], measures=[measured(measure, 3.0, error)])
    recap = recap_of("Ada", [visit((Role.BEFORE, before), (Role.AFTER, after))])
    assert ("Got better" in dict(recap.news)) is praised
    assert [keep.fault for keep in recap.story.keep] == [name] * praised


def test_a_fault_that_the_coach_hides_is_not_told_as_not_found() -> None:
    heel = "trail_heel_kick"
    found = swing(findings=[present(heel)])
    hidden = Coached(RecapEdits((KeyEdit(heel, hidden=True, words=KeyWords()),)))
    recap = recap_of("Ada", [visit((Role.OTHER, found))], hidden)
    text = Page(render_html(replace(recap, drawn=Drawn()), {})).text
    assert "Your coach has chosen nothing to work on from this lesson." in text
    assert "No fault was found" not in text


def test_a_lesson_of_which_hardly_anything_was_judged_is_not_called_sound() -> None:
    names = list(DEFINITIONS)

    def text(judged: int) -> str:
        findings = [absent(name) for name in names[:judged]]
        findings += [unseen(name) for name in names[judged:]]
        return recap_of("Ada", [visit((Role.OTHER, swing(findings=findings)))]).none_to_work_on

    assert text(2).startswith("Too little could be judged")
    assert text(10).startswith("No fault was found at full speed in what could be seen: 10 of")
    assert text(len(names)).startswith("No fault was found at full speed; all 16")


def test_how_many_faults_were_judged_says_so_where_it_counts_only_the_swings_after() -> None:
    names = list(DEFINITIONS)
    much = swing(findings=[absent(name) for name in names])
    little = swing(findings=[unseen(name) for name in names])
    said = "This counts only the swings after the work."
    both = recap_of("Ada", [visit((Role.BEFORE, much), (Role.AFTER, little))])
    assert said in both.none_to_work_on
    assert said not in recap_of("Ada", [visit((Role.AFTER, little))]).none_to_work_on
    key = swing(findings=[present(names[0]), *(unseen(name) for name in names[1:])])
    worked_on = recap_of("Ada", [visit((Role.BEFORE, much), (Role.AFTER, key))])
    text = Page(render_html(replace(worked_on, drawn=Drawn()), {})).text
    assert f"1 of the {len(names)} faults could be judged in the swings after the work." in text
