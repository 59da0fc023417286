"""Numbers of answers, rounded and within their bounds, and what answers are built from."""

from __future__ import annotations

from typing import Annotated, Final

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from service.analysis.judging.calibration import SUREST


def _rounding(digits: int) -> BeforeValidator:
    """Round before the bounds are checked, which a last bit could otherwise pass."""
    return BeforeValidator(lambda value: round(value, digits))


UNSUREST: Final[float] = round(1.0 - SUREST, 3)


def _as_confidence(value: float) -> float:
    return min(max(round(value, 3), UNSUREST), SUREST)


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
