"""What an uncertainty must be for a value to tell."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.analysis.faults import CATALOGUE, FaultDefinition
from service.analysis.judging.weighing import criteria_of, weigh
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
    value = criterion.threshold + way * (criterion.marked - criterion.threshold)
    asked = most(definition, view, value, VAGUE)
    assert tells(definition, view, value, 0.999 * asked)
    assert not tells(definition, view, value, 1.001 * asked)


def tells_of(definition: FaultDefinition, view: View, ways: float, errors: float) -> bool:
    """Whether values tell that lie, and are uncertain, by so many ways from the threshold to a
    marked fault."""
    measured, sizes = [], []
    for criterion in definition.criteria[view]:
        way = criterion.marked - criterion.threshold
        sizes.append(errors * abs(way))
        measured.append(MeasuredValue(criterion.threshold + ways * way, sizes[-1], np.zeros(1)))
    asked = weigh(criteria_of((definition,), view), [measured]).most[0]
    return all(size <= most for size, most in zip(sizes, asked, strict=True))


@pytest.mark.parametrize(("definition", "view"), ALONE)
@given(ways=st.floats(2.0, 20.0))
def test_a_vague_measure_alone_tells_of_no_fault_however_far_off_it_lies(definition, view, ways):
    assert tells_of(definition, view, ways, 0.89)
    assert not tells_of(definition, view, ways, 0.91)


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
