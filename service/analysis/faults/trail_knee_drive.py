"""Trail knee driving toward the ball."""

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
    Measure,
    Reduce,
    against_address,
    placewise,
)
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View


@placewise
def _knee_travel(swing: NormalizedSwing) -> FloatArray:
    """Travel of the trail knee toward the ball against address; it stays near in a quiet
    swing up to P6."""
    return against_address(swing.point(Point.TRAIL_KNEE)[..., 0])


KNEE_TRAVEL: Final = Measure(
    name="trail_knee_travel",
    title="Travel of the trail knee toward the ball",
    unit=BODY_PERCENT,
    description="How far the trail knee has moved toward the ball against address.",
    views=(View.DOWN_THE_LINE,),
    needs=(Point.TRAIL_KNEE,),
    start=5.0,
    end=6.0,
    reduce=Reduce.MAX,
    signal=_knee_travel,
    against=(1.0,),
    doubt=1.1,
)

DEFINITION: Final = FaultDefinition(
    name="trail_knee_drive",
    title="Trail knee driving toward the ball",
    description=(
        "From lead arm level coming down (P5) to shaft level (P6) the trail knee is driven out "
        "toward the ball instead of moving toward the lead knee."
    ),
    criteria={
        View.DOWN_THE_LINE: (
            Criterion(
                KNEE_TRAVEL,
                above=4.0,
                grey=0.7,
                moderate=5.0,
                marked=6.5,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "The trail heel comes up early and throws the knee forward.",
        "The pelvis moves toward the ball to make room for a steep club.",
    ),
    checkpoint=(
        "Rehearse from P5 to P6 with the trail heel down: the trail knee goes toward the lead "
        "knee, not toward the ball."
    ),
    brings=("handle_rise",),
    min_frames=1.0,
    unless=("camera_moves", "legs_exchanged"),
    kept="Coming down, the trail knee stays back from the ball.",
)
