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
ALONE = [
    (definition, view)
    for definition in CATALOGUE.values()
    for view, criteria in definition.criteria.items()
    if len(criteria) == 1
]


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
