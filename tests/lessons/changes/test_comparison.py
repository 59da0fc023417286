import pytest

from service.analysis.types import Status, View
from service.lessons import (
    Comparison,
    DifferentViews,
    FaultChange,
    MeasureChange,
    NoSwingFound,
    NotComparable,
    TooFewSwings,
    Verdict,
    compare,
)
from tests.lessons.made_up import (
    DEFINITIONS,
    absent,
    judged_by,
    measured,
    no_swing,
    present,
    rehearsed,
    swing,
    unseen,
)

LONG = DEFINITIONS["long_backswing"]
CRITERION = LONG.criteria[View.FACE_ON][0]
ARM = CRITERION.measure.name


def at(value: float, u: float = 1.0):
    return judged_by(LONG, View.FACE_ON, value, u)


def measure(comparison: Comparison, name: str) -> MeasureChange:
    return next(m for m in comparison.measures if m.name == name)


def fault(comparison: Comparison, name: str) -> FaultChange:
    return next(f for f in comparison.faults if f.fault == name)


BAD, GOOD = CRITERION.marked, CRITERION.threshold - 10.0


def test_a_change_away_from_the_fault_is_better() -> None:
    found = compare([at(BAD)], [at(GOOD)])
    assert measure(found, ARM).verdict is Verdict.BETTER
    assert measure(found, ARM).change == pytest.approx(GOOD - BAD)
    assert measure(found, ARM).fault == "long_backswing"
    assert fault(found, "long_backswing").verdict is Verdict.BETTER


def test_a_change_toward_the_fault_is_worse() -> None:
    found = compare([at(GOOD)], [at(BAD)])
    assert measure(found, ARM).verdict is Verdict.WORSE
    assert fault(found, "long_backswing").verdict is Verdict.WORSE


def test_a_change_within_the_smallest_detectable_is_none() -> None:
    found = measure(compare([at(BAD)], [at(BAD - 2.7)]), ARM)
    assert found.verdict is Verdict.NO_DETECTABLE_CHANGE
    assert found.smallest_detectable == pytest.approx(2.772, abs=0.001)


def test_a_change_just_beyond_the_smallest_detectable_counts() -> None:
    assert measure(compare([at(BAD)], [at(BAD - 2.8)]), ARM).verdict is Verdict.BETTER


def test_a_change_clearly_on_the_sound_side_is_only_a_change() -> None:
    sound = CRITERION.threshold - CRITERION.grey
    found = compare([at(sound - 40.0)], [at(sound - 1.0)])
    assert measure(found, ARM).verdict is Verdict.CHANGED
    assert fault(found, "long_backswing").verdict is Verdict.NO_DETECTABLE_CHANGE


def test_a_change_that_ends_within_the_grey_zone_is_better_or_worse() -> None:
    near = CRITERION.threshold - 0.5 * CRITERION.grey
    assert measure(compare([at(GOOD, 0.1)], [at(near, 0.1)]), ARM).verdict is Verdict.WORSE
    assert measure(compare([at(near, 0.1)], [at(GOOD, 0.1)]), ARM).verdict is Verdict.BETTER


def test_a_status_that_differs_within_the_uncertainty_is_no_detectable_change() -> None:
    found = fault(
        compare([at(CRITERION.threshold + 1.0)], [at(CRITERION.threshold - 1.0)]), "long_backswing"
    )
    assert found.verdict is Verdict.NO_DETECTABLE_CHANGE
    assert (found.before.status, found.after.status) == (Status.PRESENT, Status.ABSENT)
    assert found.reason is not None
    assert found.reason.code == "within_uncertainty"


def test_what_one_swing_lacks_is_not_comparable_and_says_which() -> None:
    missing = swing(findings=[unseen("long_backswing", "points")], measures=[measured(ARM, None)])
    found = compare([at(BAD)], [missing])
    for change in (measure(found, ARM), fault(found, "long_backswing")):
        assert change.verdict is Verdict.NOT_COMPARABLE
        assert change.reason is not None
        assert change.reason.text.startswith("After: ")
    assert measure(found, ARM).change is None


def test_tempo_is_not_comparable_between_rehearsal_and_full_speed() -> None:
    full = swing(
        findings=[present("hurried_transition")], measures=[measured("tempo_ratio", 1.5, 0.1)]
    )
    slow = rehearsed(full)
    found = measure(compare([full], [slow]), "tempo_ratio")
    assert found.reason is not None
    assert found.reason.code == "different_speed"
    same = measure(compare([slow], [slow]), "tempo_ratio")
    assert same.verdict is Verdict.NO_DETECTABLE_CHANGE


def test_of_two_criteria_the_first_with_a_say_decides() -> None:
    definition = DEFINITIONS["arms_lift_at_top"]
    first, second = definition.criteria[View.FACE_ON]

    def with_values(a: float, b: float):
        taken = [measured(first.measure.name, a), measured(second.measure.name, b)]
        return swing(findings=[present(definition.name)], measures=taken)

    steady = first.marked
    found = fault(
        compare([with_values(steady, second.marked)], [with_values(steady, second.threshold)]),
        definition.name,
    )
    assert found.verdict is Verdict.BETTER
    found = fault(
        compare(
            [with_values(first.threshold, second.marked)],
            [with_values(first.marked, second.threshold)],
        ),
        definition.name,
    )
    assert found.verdict is Verdict.WORSE


def test_repeats_of_a_player_who_varies_raise_the_smallest_detectable_change() -> None:
    alone = compare([at(BAD)], [at(BAD - 5.0)])
    varied = compare([at(BAD - 12.0), at(BAD), at(BAD + 12.0)], [at(BAD - 5.0)])
    assert measure(alone, ARM).verdict is Verdict.BETTER
    assert measure(varied, ARM).verdict is Verdict.NO_DETECTABLE_CHANGE


def test_the_status_of_several_swings_is_their_weighted_majority() -> None:
    unsure = [
        swing(
            findings=[absent("long_backswing", 0.55)],
            measures=[measured(ARM, CRITERION.threshold - 0.1)],
        )
    ] * 2
    found = fault(compare([at(BAD), *unsure], [at(BAD)]), "long_backswing")
    assert found.before.status is Status.PRESENT
    assert (found.before.present, found.before.assessed) == (1, 3)
    assert found.before.confidence == pytest.approx((0.9 + 0.45 + 0.45) / 3)


def test_different_views_are_refused() -> None:
    with pytest.raises(DifferentViews, match="down the line with down the line") as refused:
        compare([at(BAD)], [swing(view=View.DOWN_THE_LINE)])
    assert refused.value.code == "different_views"


def test_a_clip_without_a_swing_is_refused_with_its_reason() -> None:
    with pytest.raises(NoSwingFound, match="Nobody swings"):
        compare([at(BAD)], [no_swing()])


@pytest.mark.parametrize("sides", [([], [at(BAD)]), ([at(BAD)], []), ([], [])])
def test_an_empty_side_is_refused(sides) -> None:
    with pytest.raises(TooFewSwings):
        compare(*sides)


def test_every_refusal_is_a_value_error_with_its_own_code() -> None:
    kinds = NotComparable.__subclasses__()
    assert len({kind.code for kind in kinds} | {NotComparable.code}) == len(kinds) + 1
    assert issubclass(NotComparable, ValueError)
