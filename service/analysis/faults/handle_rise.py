"""Handle rising at impact."""

from __future__ import annotations

from typing import Final

from service.analysis.events.normalized import NormalizedSwing
from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
from service.analysis.measures.body_lines import WRISTS, hands
from service.analysis.measures.definition import (
    BODY_PERCENT,
    BOTH_VIEWS,
    Measure,
    Reduce,
    against_address,
    placewise,
)
from service.analysis.types import FloatArray


@placewise
def _hand_height(swing: NormalizedSwing) -> FloatArray:
    return against_address(hands(swing)[..., 1])


HAND_HEIGHT: Final = Measure(
    name="hand_height_at_impact",
    title="Height of the hands at impact against address",
    unit=BODY_PERCENT,
    description=("How much higher the middle of the wrists is at impact than it was at address."),
    views=BOTH_VIEWS,
    needs=WRISTS,
    start=7.0,
    end=7.0,
    reduce=Reduce.MEAN,
    signal=_hand_height,
    against=(1.0,),
)
_CRITERIA: Final = (
    Criterion(
        HAND_HEIGHT, above=3.8, grey=0.7, moderate=4.8, marked=6.0, reference=COMMON_PRACTICE
    ),
)

DEFINITION: Final = FaultDefinition(
    name="handle_rise",
    title="Handle rising at impact",
    description=(
        "At impact the hands, and with them the handle of the club, are clearly higher than they "
        "were at address; the shaft arrives more upright than it started."
    ),
    criteria=dict.fromkeys(BOTH_VIEWS, _CRITERIA),
    causes=(
        "The pelvis moves toward the ball and the trunk straightens up.",
        "A steep club has to be raised so as not to strike the ground.",
    ),
    checkpoint=(
        "Rehearse from P6 to impact in front of a mirror: hands back at the height they had at "
        "address, trunk still bent over the ball."
    ),
    brings=("elbows_separate",),
    unless=("camera_moves", "places_smoothed", "plays_fast"),
    kept="The hands come back to their height at address.",
)
