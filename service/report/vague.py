"""Which values are measured too vaguely to be told."""

from __future__ import annotations

from math import inf
from typing import Final

from service.analysis.faults import CATALOGUE

_WIDEST_ANGLE: Final[float] = 22.5
"""Standard deviation in degrees from which an angle tells nothing: two of them either way are a
right angle together; a judgement."""
_WIDEST: Final[dict[str, float]] = {
    criterion.measure.name: criterion.excess(criterion.marked)
    for fault in CATALOGUE.values()
    for criteria in fault.criteria.values()
    for criterion in criteria
}
"""The same of measures that faults are judged by: as far as a marked fault is beyond its threshold,
from where on no fault is told by it either."""


def is_vague(measure: str, unit: str, uncertainty: float | None) -> bool:
    """Whether a value could be nearly any.

    >>> is_vague("bend", "degrees", 48.0), is_vague("bend", "degrees", 9.0)
    (True, False)
    """
    widest = _WIDEST_ANGLE if unit == "degrees" else inf
    return (uncertainty or 0.0) > _WIDEST.get(measure, widest)
