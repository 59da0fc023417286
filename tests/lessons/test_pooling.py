"""What several swings together say, where they or their signs disagree."""

from dataclasses import replace

import pytest

from service.analysis.types import Status, View
from service.lessons import pool_findings
from service.lessons.swings import beyond, values_of
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    judged_absent,
    measured,
    present,
    swing,
    unseen,
)

HEEL, ARMS = "trail_heel_kick", "arms_lift_at_top"


def seen(finding, view=View.FACE_ON):
    return swing(findings=[finding], view=view)


def test_what_one_view_shows_and_the_other_does_not_is_seen_from_one_side_only() -> None:
    swings = [seen(present(HEEL, confidence=0.986))]
    swings += [seen(absent(HEEL, 0.99), View.DOWN_THE_LINE) for _ in range(3)]
    pooled = pool_findings(swings, HEEL)
    assert pooled.status is Status.UNCERTAIN
    assert pooled.reason is not None
    assert pooled.reason.text == (
        "Seen from one side only: found face on, not found down the line."
    )
    assert (pooled.present, pooled.assessed) == (1, 4)


def test_swings_of_which_one_plainly_shows_it_and_one_does_not_are_said_to_differ() -> None:
    pooled = pool_findings([seen(present(HEEL, 0.97)), seen(absent(HEEL, 0.97))], HEEL)
    assert pooled.status is Status.UNCERTAIN
    assert pooled.reason is not None
    assert pooled.reason.code == "swings_differ"
    assert pooled.reason.text == "The swings differ: found in 1, not found in 1."


@pytest.mark.parametrize("finding", [present(HEEL), absent(HEEL)])
def test_views_that_agree_or_cannot_tell_leave_the_verdict_as_it_is(finding) -> None:
    for other in (finding, unseen(HEEL)):
        pooled = pool_findings([seen(finding), seen(other, View.DOWN_THE_LINE)], HEEL)
        assert pooled.status is finding.status
        assert pooled.reason is None


def test_why_the_right_view_could_not_tell_comes_before_that_the_other_was_wrong() -> None:
    swings = [seen(unseen(HEEL)), seen(unseen(HEEL, "frame_rate"), View.DOWN_THE_LINE)]
    pooled = pool_findings(swings, HEEL)
    assert pooled.reason is not None
    assert pooled.reason.code == "frame_rate"


def test_a_view_too_close_to_call_does_not_outvote_one_that_tells() -> None:
    swings = [seen(present(HEEL)), seen(absent(HEEL, 0.55), View.DOWN_THE_LINE)]
    pooled = pool_findings(swings, HEEL)
    assert (pooled.status, pooled.confidence) == (Status.PRESENT, pytest.approx(0.9))


def test_a_sign_that_is_plainly_there_makes_an_absent_fault_uncertain() -> None:
    rise, turn = DEFINITIONS[ARMS].criteria[View.FACE_ON]
    pooled = pool_findings([seen(judged_absent(ARMS, rise.marked, turn.threshold + 20.0))], ARMS)
    assert pooled.status is Status.UNCERTAIN
    assert pooled.reason is not None
    assert "Only one sign of it is there: rise of the lead arm" in pooled.reason.text


def test_a_sign_within_the_grey_zone_leaves_it_absent() -> None:
    rise, turn = DEFINITIONS[ARMS].criteria[View.FACE_ON]
    near = judged_absent(ARMS, rise.threshold + 0.5 * rise.grey, turn.threshold + 20.0)
    assert pool_findings([seen(near)], ARMS).status is Status.ABSENT


def test_a_value_told_without_an_error_has_none() -> None:
    told = measured("tempo_ratio", 2.5, 0.25)
    swings = [swing(measures=[each]) for each in (told, replace(told, uncertainty=None))]
    values = values_of("tempo_ratio", swings)
    assert values is not None
    assert values.uncertainties.tolist() == [0.25, 0.0]


def test_a_value_on_its_threshold_does_not_speak_for_the_fault() -> None:
    criteria = DEFINITIONS[HEEL].criteria[View.FACE_ON]
    on_it = judged_absent(HEEL, *(c.threshold for c in criteria))
    past = judged_absent(HEEL, *(c.moderate for c in criteria))
    assert beyond(on_it) == (False,) * len(criteria)
    assert beyond(past) == (True,) * len(criteria)
