"""What an uncertainty must be for a value to tell."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.analysis.faults import CATALOGUE, Criterion, FaultDefinition
from service.analysis.judging.weighing import criteria_of, weigh, weigh_numbers
from service.analysis.measures.definition import MeasuredValue
from service.analysis.types import View

VAGUE = 1e6
SHOWN = [
    (definition, view)
    for definition in CATALOGUE.values()
    for view, criteria in definition.criteria.items()
]
ALONE = [(d, view) for d, view in SHOWN if len(d.criteria[view]) == 1]
TOGETHER = [(d, view) for d, view in SHOWN if len(d.criteria[view]) > 1]


def at(criterion: Criterion, ways: float) -> float:
    """The value that lies so many ways from the threshold to a marked fault, of ratios so many
    times by the same factor."""
    if criterion.measure.ratio:
        return criterion.threshold * (criterion.marked / criterion.threshold) ** ways
    return criterion.threshold + ways * (criterion.marked - criterion.threshold)


def error_at(criterion: Criterion, ways: float, size: float) -> float:
    """An uncertainty of ``size`` ways to a marked fault, of a value that many ``ways`` off."""
    if criterion.measure.ratio:
        return size * at(criterion, ways) * abs(np.log(criterion.marked / criterion.threshold))
    return size * abs(criterion.marked - criterion.threshold)


def most(definition: FaultDefinition, view: View, value: float, error: float) -> float:
    """What is asked of a value of some uncertainty."""
    measured = MeasuredValue(value, error, np.zeros(1))
    return float(weigh(criteria_of((definition,), view), [[measured]]).most[0, 0])


def tells(definition: FaultDefinition, view: View, value: float, error: float) -> bool:
    return error <= most(definition, view, value, error)


@pytest.mark.parametrize(("definition", "view"), ALONE)
@given(way=st.floats(-3.0, 3.0))
def test_a_value_tells_once_it_is_less_uncertain_than_the_reason_asks(definition, view, way):
    (criterion,) = definition.criteria[view]
    value = at(criterion, way)
    asked = most(definition, view, value, VAGUE)
    assert tells(definition, view, value, 0.999 * asked)
    assert not tells(definition, view, value, 1.001 * asked)


def tells_of(definition: FaultDefinition, view: View, ways: float, errors: float) -> bool:
    """Whether values tell that lie, and are uncertain, by so many ways from the threshold to a
    marked fault."""
    measured, sizes = [], []
    for criterion in definition.criteria[view]:
        sizes.append(error_at(criterion, ways, errors))
        measured.append(MeasuredValue(at(criterion, ways), sizes[-1], np.zeros(1)))
    asked = weigh(criteria_of((definition,), view), [measured]).most[0]
    return all(size <= most for size, most in zip(sizes, asked, strict=True))


@pytest.mark.parametrize(("definition", "view"), ALONE)
@given(ways=st.floats(2.0, 3.6))
def test_a_vague_measure_alone_tells_of_no_fault_that_is_not_far_beyond(definition, view, ways):
    assert tells_of(definition, view, ways, 0.89)
    assert not tells_of(definition, view, ways, 0.91)


@pytest.mark.parametrize(("definition", "view"), ALONE)
@given(ways=st.floats(4.0, 10.0))
def test_four_uncertainties_beyond_its_threshold_a_vague_measure_tells(definition, view, ways):
    assert tells_of(definition, view, ways, 0.249 * ways)
    assert not tells_of(definition, view, ways, 0.251 * ways)


@pytest.mark.parametrize(("definition", "view"), TOGETHER)
@given(errors=st.floats(1.0, 10.0))
def test_two_vague_measures_tell_of_a_fault_once_both_lie_surely_beyond(definition, view, errors):
    assert tells_of(definition, view, 1.5 * errors, errors)
    assert not tells_of(definition, view, 1.0 * errors, errors)


@pytest.mark.parametrize(("definition", "view"), TOGETHER)
def test_of_two_measures_neither_tells_of_a_fault_for_the_other(definition, view):
    first, second = definition.criteria[view]
    for far, near in ((first, second), (second, first)):
        values = {
            far: MeasuredValue(
                far.threshold + 9.0 * (far.marked - far.threshold), 0.01, np.ones(1)
            ),
            near: MeasuredValue(
                near.threshold + 0.5 * (near.marked - near.threshold),
                abs(near.marked - near.threshold),
                np.ones(1),
            ),
        }
        asked = weigh(criteria_of((definition,), view), [[values[first], values[second]]]).most[0]
        place = (first, second).index(near)
        assert values[near].uncertainty > asked[place]


@pytest.mark.parametrize(("definition", "view"), TOGETHER)
def test_one_measure_clearly_short_settles_it_however_vague_the_other_is(definition, view):
    for short in definition.criteria[view]:
        measured = [
            MeasuredValue(2.0 * c.threshold - c.marked, 0.01, np.zeros(1))
            if c is short
            else MeasuredValue(c.marked, VAGUE, np.zeros(1))
            for c in definition.criteria[view]
        ]
        weighed = weigh(criteria_of((definition,), view), [measured])
        assert weighed.scores[0, 0] < 0.1
        assert all(each.uncertainty <= m for each, m in zip(measured, weighed.most[0], strict=True))


def criterion_score(definition, view, criterion, value, uncertainty):
    """Score of a fault that went by one of its criteria alone."""
    alone = replace(definition, criteria={view: (criterion,)})
    numbers = np.array([[value]]), np.array([[uncertainty]])
    return float(weigh_numbers(criteria_of((alone,), view), *numbers).scores[0, 0])


RATIOS = [(d, view) for d, view in ALONE if d.criteria[view][0].measure.ratio]


def test_the_tempo_is_a_ratio():
    assert {(d.name, view) for d, view in RATIOS} == {("hurried_transition", v) for v in View}


@pytest.mark.parametrize(("definition", "view"), RATIOS)
@given(ways=st.floats(0.0, 5.0), error=st.floats(0.01, 0.5))
def test_of_a_ratio_twice_and_half_the_threshold_are_as_far_off(definition, view, ways, error):
    (criterion,) = definition.criteria[view]
    either = [
        criterion_score(definition, view, criterion, at(criterion, way), error * at(criterion, way))
        for way in (-ways, ways)
    ]
    assert sum(either) == pytest.approx(1.0)


@pytest.mark.parametrize(("definition", "view"), SHOWN)
def test_at_the_threshold_a_ratio_is_weighed_as_any_other_measure(definition, view):
    for criterion in definition.criteria[view]:
        nearby = criterion.threshold + 1e-4 * criterion.grey
        step = criterion.excess(nearby) / np.hypot(0.5 * criterion.grey, criterion.grey)
        told = criterion_score(definition, view, criterion, nearby, 0.5 * criterion.grey)
        assert told - 0.5 == pytest.approx(step / np.sqrt(2.0 * np.pi), rel=1e-3)


@pytest.mark.parametrize(("definition", "view"), RATIOS)
@given(value=st.floats(-5.0, 1e-3))
def test_what_is_no_ratio_of_times_lies_beyond_all_the_same(definition, view, value):
    (criterion,) = definition.criteria[view]
    assert 0.5 < criterion_score(definition, view, criterion, value, 0.1) <= 1.0
