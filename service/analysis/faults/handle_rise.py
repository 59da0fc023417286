"""Handle rising at impact."""

from __future__ import annotations

from typing import Final

import numpy as np

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
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View


@placewise
def _hand_height(swing: NormalizedSwing) -> FloatArray:
    """Rise of the middle of the wrists, as unsure as one wrist against the other says.

    Both hold one handle, so that each rises as the other does. Where they differ by more than what
    is drawn of their errors, one was lost or guessed, and the middle is off by half of that.
    """
    rise = swing.by_swing(against_address(hands(swing)[..., 1]))
    apart = swing.point(Point.LEAD_WRIST) - swing.point(Point.TRAIL_WRIST)
    half = 0.5 * swing.by_swing(against_address(apart[..., 1]))[:, :1]
    off = rise[:, 1:] - rise[:, :1]
    drawn = np.add.reduce(off**2, axis=1, keepdims=True) / max(off.shape[1], 1)
    lacks = np.sqrt(np.maximum(half**2 - drawn, 0.0))
    # Up in one drawn sample and down in the next, each of which has its opposite in the other half.
    rise[:, 1:] += np.where(np.arange(off.shape[1]) % 2, -1.0, 1.0)[:, None] * lacks
    return rise.reshape(-1, rise.shape[-1])


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
    doubt={View.FACE_ON: 1.35, View.DOWN_THE_LINE: 1.15},
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
