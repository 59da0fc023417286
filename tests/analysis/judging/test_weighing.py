"""What an uncertainty must be for a value to tell."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.analysis.faults import CATALOGUE, Criterion, FaultDefinition
from service.analysis.judging.weighing import criteria_of, least_telling, weigh
from service.analysis.measures.definition import MeasuredValue
from service.analysis.types import View

ALONE = [
    (definition, view)
    for definition in CATALOGUE.values()
    for view, criteria in definition.criteria.items()
    if len(criteria) == 1
]


def tells(
    definition: FaultDefinition, view: View, criterion: Criterion, value: float, error: float
) -> bool:
    measured = MeasuredValue(value, error, np.zeros(1))
    assert criterion is definition.criteria[view][0]
    weighed = weigh(criteria_of((definition,), view), [[measured]])
    return bool(error <= weighed.most[0, 0])


@pytest.mark.parametrize(("definition", "view"), ALONE)
@given(way=st.floats(-3.0, 3.0))
def test_a_value_tells_once_it_is_less_uncertain_than_the_reason_asks(definition, view, way):
    (criterion,) = definition.criteria[view]
    value = criterion.threshold + way * (criterion.marked - criterion.threshold)
    asked = least_telling(criterion, value)
    assert tells(definition, view, criterion, value, 0.999 * asked)
    assert not tells(definition, view, criterion, value, 1.001 * asked)
