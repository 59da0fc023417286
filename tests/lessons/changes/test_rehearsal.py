import pytest

from service.analysis.types import SwingAnalysis, View
from service.lessons import Outcome, Transfer, WrongIntent, transfer_to_full_speed
from tests.lessons.made_up import (
    DEFINITIONS,
    judged_by,
    measured,
    present,
    rehearsed,
    swing,
    unseen,
)

LONG = DEFINITIONS["long_backswing"]
CRITERION = LONG.criteria[View.FACE_ON][0]
BAD, GOOD = CRITERION.marked, CRITERION.threshold - 8.0


def at(value: float, u: float = 1.0) -> SwingAnalysis:
    return judged_by(LONG, View.FACE_ON, value, u)


def follow(
    before: SwingAnalysis,
    rehearsal: SwingAnalysis,
    after: SwingAnalysis,
    fault: str = "long_backswing",
) -> Transfer:
    answers = transfer_to_full_speed([before], [rehearsed(rehearsal)], [after])
    return next(a for a in answers if a.fault == fault)


def test_a_change_that_is_there_at_full_speed_holds() -> None:
    found = follow(at(BAD), at(GOOD), at(GOOD))
    assert found.outcome is Outcome.HOLDS
    assert found.kept == pytest.approx(1.0)


def test_a_change_half_kept_holds_and_says_so() -> None:
    found = follow(at(BAD), at(GOOD), at(0.5 * (BAD + GOOD)))
    assert found.outcome is Outcome.HOLDS
    assert found.kept == pytest.approx(0.5)


def test_a_change_of_which_little_is_left_at_full_speed_is_lost() -> None:
    found = follow(at(BAD), at(GOOD), at(BAD + 0.2 * (GOOD - BAD)))
    assert found.outcome is Outcome.LOST_AT_FULL_SPEED
    assert found.kept == pytest.approx(0.2)


def test_a_change_that_is_gone_at_full_speed_is_lost() -> None:
    found = follow(at(BAD), at(GOOD), at(BAD))
    assert found.outcome is Outcome.LOST_AT_FULL_SPEED
    assert found.kept == pytest.approx(0.0)


def test_a_rehearsal_that_changed_nothing_says_so() -> None:
    assert follow(at(BAD), at(BAD), at(GOOD)).outcome is Outcome.NOT_CHANGED_IN_REHEARSAL


def test_between_before_and_rehearsal_it_cannot_be_told() -> None:
    found = follow(at(BAD), at(BAD - 5.0), at(BAD - 2.5))
    assert found.outcome is Outcome.CANNOT_TELL
    assert found.reason is not None
    assert found.reason.code == "between"


def test_a_fault_that_was_not_there_cannot_be_told() -> None:
    found = follow(at(GOOD), at(GOOD), at(GOOD))
    assert found.reason is not None
    assert found.reason.code == "absent_before"


def test_tempo_cannot_be_told_from_a_rehearsal() -> None:
    hurried = swing(
        findings=[present("hurried_transition")], measures=[measured("tempo_ratio", 1.5, 0.1)]
    )
    found = follow(hurried, hurried, hurried, "hurried_transition")
    assert found.outcome is Outcome.CANNOT_TELL
    assert found.reason is not None
    assert found.reason.code == "different_speed"


def test_a_full_speed_swing_is_no_rehearsal() -> None:
    with pytest.raises(WrongIntent, match="given as rehearsal"):
        transfer_to_full_speed([at(BAD)], [at(GOOD)], [at(GOOD)])


def test_a_rehearsal_is_no_full_speed_swing() -> None:
    with pytest.raises(WrongIntent, match="given as full speed"):
        transfer_to_full_speed([at(BAD)], [rehearsed(at(GOOD))], [rehearsed(at(GOOD))])


def test_what_the_rehearsal_did_not_show_is_told_of_the_rehearsal() -> None:
    unclear = swing(findings=[unseen("long_backswing", "too_uncertain")])
    of_rehearsal = follow(at(BAD), unclear, at(GOOD)).reason
    of_after = follow(at(BAD), at(GOOD), unclear).reason
    assert of_rehearsal is not None
    assert of_rehearsal.text.startswith("Rehearsal: ")
    assert of_after is not None
    assert of_after.text.startswith("After: ")
