"""Upper body drifting off the ball in the backswing."""

from __future__ import annotations

from typing import Final

from service.analysis.events.normalized import NormalizedSwing
from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
from service.analysis.measures.body_lines import SHOULDERS, mid_shoulders
from service.analysis.measures.definition import (
    BODY_PERCENT,
    Measure,
    Reduce,
    against_address,
    placewise,
)
from service.analysis.types import FloatArray, View


@placewise
def _drift(swing: NormalizedSwing) -> FloatArray:
    """Travel of the middle of the shoulders away from the target."""
    return -against_address(mid_shoulders(swing)[..., 0])


UPPER_BODY_DRIFT: Final = Measure(
    name="upper_body_drift",
    title="Drift of the upper body off the ball",
    unit=BODY_PERCENT,
    description="Travel of the middle of the shoulders away from the target against address.",
    views=(View.FACE_ON,),
    needs=SHOULDERS,
    start=2.0,
    end=4.0,
    reduce=Reduce.MAX,
    signal=_drift,
    against=(1.0,),
)

DEFINITION: Final = FaultDefinition(
    name="upper_body_drift",
    title="Upper body drifting off the ball",
    description=(
        "In the backswing the middle of the shoulders moves away from the target instead of "
        "turning over the trail leg."
    ),
    criteria={
        View.FACE_ON: (
            Criterion(
                UPPER_BODY_DRIFT,
                above=5.0,
                grey=1.0,
                moderate=6.5,
                marked=8.5,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "The weight is pushed sideways instead of the chest being turned.",
        "The pelvis slides away from the target.",
    ),
    checkpoint=(
        "Make slow backswings to P4 while somebody holds a shaft upright beside your trail ear: "
        "turn without leaning on it."
    ),
    brings=("trail_shoulder_drop", "hips_past_lead_foot"),
    unless=("camera_moves",),
    kept="Going back, the upper body keeps its place over the feet.",
)
