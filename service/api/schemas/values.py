"""Numbers of answers, rounded and within their bounds, and what answers are built from."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Final

import numpy as np
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from service.analysis.judging.calibration import SUREST
from service.analysis.types import FloatArray

_NO_TIE: Final[float] = 0.4999
"""So far from a whole number nothing is halfway between two, whatever its last bit."""
_FEW_DIGITS: Final[float] = 1e9
"""Below it a product's last bit is far less than what is missing to a tie."""


def _rounding(digits: int) -> BeforeValidator:
    """Round before the bounds are checked, which a last bit could otherwise pass."""
    return BeforeValidator(rounding(digits))


def rounding(digits: int) -> Callable[[float], float]:
    """Just what ``round`` with so many digits gives, in a fifth of its time.

    That works with decimals; a whole number divided by a power of ten is the same float, where the
    number lies between no two of them.

    >>> rounding(4)(0.00125), round(0.00125, 4), rounding(2)(-0.001)
    (0.0013, 0.0013, -0.0)
    """
    scale = 10.0**digits

    def rounded(value: float) -> float:
        scaled = value * scale
        if -_FEW_DIGITS < scaled < _FEW_DIGITS:
            whole = round(scaled)
            if whole and -_NO_TIE < scaled - whole < _NO_TIE:
                return whole / scale
        return round(value, digits)

    return rounded


def all_rounded(values: FloatArray, digits: int) -> list[float]:
    """Each number of an array rounded as :func:`rounding` does; NaN stays NaN."""
    scale = 10.0**digits
    with np.errstate(invalid="ignore", over="ignore"):
        scaled = values * scale
        whole = np.rint(scaled)
        close = (np.abs(scaled) < _FEW_DIGITS) & (np.abs(scaled - whole) < _NO_TIE) & (whole != 0)
    told: list[float] = (whole / scale).tolist()
    for k in (~close & (values == values)).nonzero()[0].tolist():
        told[k] = round(float(values[k]), digits)
    return told


UNSUREST: Final[float] = round(1.0 - SUREST, 3)
_to_three: Final = rounding(3)


def _as_confidence(value: float) -> float:
    return min(max(_to_three(value), UNSUREST), SUREST)


Finite = Field(allow_inf_nan=False)
TIME_DIGITS: Final[int] = 4
COORDINATE_DIGITS: Final[int] = 3

Seconds = Annotated[float, Finite, _rounding(TIME_DIGITS)]
Frame = Annotated[float, Finite, _rounding(2)]
Share = Annotated[float, Finite, Field(ge=0, le=1), _rounding(3)]
Confidence = Annotated[
    float, Finite, Field(ge=UNSUREST, le=SUREST), BeforeValidator(_as_confidence)
]
"""Never 0 or 1: nobody has measured more."""
Number = Annotated[float, Finite, _rounding(4)]
OnScale = Annotated[float, Finite, Field(ge=1, le=10)]
Coordinate = Annotated[OnScale, _rounding(COORDINATE_DIGITS)]


class Answer(BaseModel):
    """Built from the attributes of a domain object; ``time`` there is ``time_s`` here."""

    model_config = ConfigDict(from_attributes=True, populate_by_name=True)
