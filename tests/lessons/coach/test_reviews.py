"""Whose word counts about a fault."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from service.analysis.types import CoachVerdict, Finding, Grade, Review, Status, View
from service.languages import language
from service.lessons import Lesson, Trend, Verdict, build_story, compare, follow_up, pool_findings
from service.lessons.coach.reviews import as_told, coach_view, coachs_own, with_reviews
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    judged_by,
    others_absent,
    present,
    swing,
    unseen,
)

FAULT = "long_backswing"
CONFIRM, REJECT, UNSURE = CoachVerdict
SERVICE = {
    Status.PRESENT: present(FAULT, Grade.MILD),
    Status.ABSENT: absent(FAULT),
    Status.UNCERTAIN: replace(absent(FAULT, 0.55), status=Status.UNCERTAIN),
    Status.NOT_ASSESSABLE: unseen(FAULT),
}


def reviewed(finding: Finding, verdict: CoachVerdict, grade: Grade | None = None) -> Finding:
    now = datetime(2025, 5, 17, tzinfo=UTC)
    return replace(finding, review=Review(verdict, grade, None, "Bo", now, 1, 1))


@pytest.mark.parametrize("found", SERVICE.values(), ids=SERVICE)
@pytest.mark.parametrize("verdict", CoachVerdict)
def test_what_is_told_is_what_the_coach_says(found: Finding, verdict: CoachVerdict) -> None:
    told = as_told(reviewed(found, verdict))
    wanted = {CONFIRM: Status.PRESENT, REJECT: Status.ABSENT, UNSURE: Status.UNCERTAIN}
    assert told.status is wanted[verdict]
    if told.status is not found.status:
        assert (told.score, told.confidence, told.chance, told.severity) == (None,) * 4
        assert told.evidence == (), "no evidence is told beside a word that it speaks against"


def test_a_finding_without_a_review_is_told_as_it_is() -> None:
    assert as_told(SERVICE[Status.PRESENT]) is SERVICE[Status.PRESENT]


def test_a_confirmed_finding_keeps_its_evidence_and_takes_the_coach_s_grade() -> None:
    found = SERVICE[Status.PRESENT]
    agreed = as_told(reviewed(found, CONFIRM))
    assert (agreed.grade, agreed.evidence) == (Grade.MILD, found.evidence)
    assert not coachs_own(reviewed(found, CONFIRM))
    graver = reviewed(found, CONFIRM, Grade.MARKED)
    assert (as_told(graver).grade, as_told(graver).evidence) == (Grade.MARKED, found.evidence)
    assert coachs_own(graver)


@pytest.mark.parametrize(
    ("finding", "text"),
    [
        (
            reviewed(SERVICE[Status.PRESENT], REJECT),
            "In your coach's view it is not there; the service found it.",
        ),
        (
            reviewed(SERVICE[Status.NOT_ASSESSABLE], CONFIRM, Grade.MARKED),
            "In your coach's view it is there and marked; the service could not see it.",
        ),
        (
            reviewed(SERVICE[Status.PRESENT], CONFIRM, Grade.MARKED),
            "In your coach's view it is there and marked; the service found it mild.",
        ),
    ],
)
def test_where_the_coach_says_otherwise_both_are_told(finding: Finding, text: str) -> None:
    view = coach_view(finding)
    assert view is not None
    assert (view.contradicts, view.text) == (True, text)


def test_one_swing_that_the_coach_decided_on_outweighs_those_that_the_coach_did_not() -> None:
    service = [swing(findings=[present(FAULT)]) for _ in range(3)]
    said = swing(findings=[reviewed(present(FAULT), REJECT)])
    pooled = pool_findings([*service, said], FAULT)
    assert (pooled.status, pooled.present, pooled.assessed) == (Status.ABSENT, 0, 1)
    assert (pooled.confidence, pooled.by_coach, pooled.coachs_own) == (None, True, True)


def test_a_coach_who_saw_it_as_often_as_not_leaves_it_uncertain() -> None:
    both = [swing(findings=[reviewed(present(FAULT), v)]) for v in (CONFIRM, REJECT)]
    pooled = pool_findings(both, FAULT)
    assert (pooled.status, pooled.present, pooled.assessed) == (Status.UNCERTAIN, 1, 2)
    assert pooled.reason is not None
    assert pooled.reason.code == "coach_divided"


def test_a_coach_who_is_unsure_leaves_the_other_swings_their_say() -> None:
    unsure = swing(findings=[reviewed(present(FAULT), UNSURE)])
    alone = pool_findings([unsure], FAULT)
    assert (alone.status, alone.confidence) == (Status.UNCERTAIN, None)
    beside = pool_findings([unsure, swing(findings=[absent(FAULT)])], FAULT)
    assert beside.status is Status.ABSENT
    assert not beside.by_coach


def test_a_fault_that_an_older_analysis_does_not_know_can_be_reviewed() -> None:
    old = swing(findings=[absent("chest_stall")])
    review = reviewed(absent(FAULT), CONFIRM).review
    assert review is not None
    known = with_reviews(old, {FAULT: review})
    assert [f.fault for f in known.findings] == ["chest_stall", FAULT]
    assert known.findings[1].status is Status.NOT_ASSESSABLE
    assert pool_findings([known], FAULT).status is Status.PRESENT


def test_the_coach_s_grade_decides_what_comes_first() -> None:
    light, grave = (
        present("long_backswing", Grade.MODERATE),
        present("upper_body_drift", Grade.MARKED),
    )
    story = build_story(others_absent(light, grave))
    assert story.priorities[0].finding.fault == "upper_body_drift"
    raised = as_told(reviewed(light, CONFIRM, Grade.MARKED))
    story = build_story(others_absent(raised, grave))
    assert story.priorities[0].finding.fault == "long_backswing"


def test_what_a_coach_rejects_is_neither_a_key_nor_praised() -> None:
    story = build_story([as_told(reviewed(present(FAULT), REJECT))])
    assert (story.priorities, story.keep, story.unseen) == ((), (), ())


def test_progress_follows_the_coach_and_a_view_does_not_bound_what_the_coach_says() -> None:
    first = Lesson(datetime(2025, 5, 1, tzinfo=UTC), (swing(findings=[present(FAULT)]),))
    gone = reviewed(unseen(FAULT), REJECT)
    other_side = swing(findings=[gone], view=View.DOWN_THE_LINE)
    last = Lesson(datetime(2025, 6, 1, tzinfo=UTC), (other_side,))
    fault = next(f for f in follow_up([first, last]).faults if f.fault == FAULT)
    assert fault.trend is Trend.GONE
    assert [p.settled.by_coach for p in fault.points] == [False, True]


def test_a_comparison_tells_the_coach_s_word_on_either_side() -> None:
    before = swing(findings=[reviewed(present(FAULT), REJECT)])
    after = swing(findings=[present(FAULT)])
    change = next(f for f in compare([before], [after]).faults if f.fault == FAULT)
    assert (change.before.status, change.before.by_coach) == (Status.ABSENT, True)
    assert (change.after.status, change.after.by_coach) == (Status.PRESENT, False)
    assert change.verdict is Verdict.NOT_COMPARABLE, "measures have no say against the coach"
    assert change.reason is not None
    assert change.reason.code == "coachs_view"


def test_where_the_coach_agrees_the_measures_have_their_say() -> None:
    definition = DEFINITIONS[FAULT]
    criterion = definition.criteria[View.FACE_ON][0]
    sides = [
        judged_by(definition, View.FACE_ON, criterion.threshold + reach, 0.5)
        for reach in (20.0, -20.0)
    ]
    assert criterion.above is not None
    said = [
        replace(s, findings=tuple(reviewed(f, v) for f in s.findings))
        for s, v in zip(sides, (CONFIRM, REJECT), strict=True)
    ]
    for pair in (sides, said):
        change = next(f for f in compare([pair[0]], [pair[1]]).faults if f.fault == FAULT)
        assert change.verdict is Verdict.BETTER


def test_what_the_coach_says_is_said_in_the_language_of_the_page() -> None:
    view = coach_view(reviewed(SERVICE[Status.PRESENT], CONFIRM, Grade.MARKED), language("de"))
    assert view is not None
    assert view.text == (
        "Dein Coach sagt: Er ist da, stark ausgeprägt; der Dienst fand ihn leicht ausgeprägt."
    )
