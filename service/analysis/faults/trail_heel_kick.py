"""Trail heel kicking up and out."""

from __future__ import annotations

from typing import Final

from service.analysis.events.normalized import NormalizedSwing
from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
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
def _heel_height(swing: NormalizedSwing) -> FloatArray:
    return against_address(swing.point(Point.TRAIL_HEEL)[..., 1])


@placewise
def _heel_outward(swing: NormalizedSwing) -> FloatArray:
    """Travel of the heel outward as the foot spins on its toe: toward the ball seen down the
    line, away from the target seen face-on."""
    travel = against_address(swing.point(Point.TRAIL_HEEL)[..., 0])
    return travel if swing.view is View.DOWN_THE_LINE else -travel


HEEL_HEIGHT: Final = Measure(
    name="trail_heel_height",
    title="Height of the trail heel",
    unit=BODY_PERCENT,
    description="Rise of the trail heel against address.",
    views=BOTH_VIEWS,
    needs=(Point.TRAIL_HEEL,),
    start=5.0,
    end=7.0,
    reduce=Reduce.MAX,
    signal=_heel_height,
    against=(1.0,),
    doubt={View.FACE_ON: 1.3, View.DOWN_THE_LINE: 1.1},
    # On makes left out rises of more than 4 % come out 12 to 19 % too small.
    blunted=0.15,
)
HEEL_OUTWARD: Final = Measure(
    name="trail_heel_outward",
    title="Outward travel of the trail heel",
    unit=BODY_PERCENT,
    description=(
        "Travel of the trail heel against address: toward the ball down the line, away from the "
        "target face-on."
    ),
    views=BOTH_VIEWS,
    needs=(Point.TRAIL_HEEL,),
    start=5.0,
    end=7.0,
    reduce=Reduce.MAX,
    signal=_heel_outward,
    against=(1.0,),
    doubt=1.1,
)
_HIGH: Final = Criterion(
    HEEL_HEIGHT, above=2.8, grey=0.6, moderate=4.0, marked=5.5, reference=COMMON_PRACTICE
)


DEFINITION: Final = FaultDefinition(
    name="trail_heel_kick",
    title="Trail heel kicking up and out",
    description=(
        "Between lead arm level coming down (P5) and impact (P7) the trail heel is already "
        "high and moving outward."
    ),
    criteria={
        View.FACE_ON: (
            _HIGH,
            Criterion(
                HEEL_OUTWARD,
                above=1.5,
                grey=0.5,
                moderate=2.5,
                marked=3.5,
                reference=COMMON_PRACTICE,
            ),
        ),
        # The foot spins about its toe, so that the heel goes less far toward the ball.
        View.DOWN_THE_LINE: (
            _HIGH,
            Criterion(
                HEEL_OUTWARD,
                above=0.5,
                grey=0.5,
                moderate=1.0,
                marked=2.0,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "The pelvis moves toward the ball to make room for a steep club.",
        "The trail leg straightens early and pushes up.",
    ),
    checkpoint=(
        "Swing at three-quarter pace and keep the trail heel on the ground until after impact; "
        "feel the foot roll inward toward the lead foot."
    ),
    brings=("trail_knee_drive", "handle_rise"),
    unless=("camera_moves", "legs_exchanged"),
    kept="The trail heel stays quiet until impact.",
)
