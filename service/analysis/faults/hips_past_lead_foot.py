"""Lower body sliding past the lead foot."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.events.normalized import NormalizedSwing
from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
from service.analysis.measures.body_lines import HIPS, mid_hips
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
def _behind_ankle(swing: NormalizedSwing) -> FloatArray:
    """How far the middle of the hips is from where the lead ankle stood at address, away from the
    target; the foot stays there, and the ankle is told best at rest.

    The middle, because annotators and estimators differ by some 3 % of body height in how far
    out they put the hips themselves.
    """
    ankle = swing.point_at(Point.LEAD_ANKLE, 1.0)[:, None]
    return np.asarray(100.0 * (ankle - mid_hips(swing))[..., 0])


@placewise
def _travel(swing: NormalizedSwing) -> FloatArray:
    return against_address(mid_hips(swing)[..., 0])


BEHIND_ANKLE: Final = Measure(
    name="hips_behind_lead_ankle",
    title="Middle of the hips behind the lead ankle",
    unit=BODY_PERCENT,
    description=(
        "How far the middle of the hips is at impact still short of where the lead ankle stands at "
        "address, along the target line; below 0 it is past it."
    ),
    views=(View.FACE_ON,),
    needs=(*HIPS, Point.LEAD_ANKLE),
    start=7.0,
    end=7.0,
    reduce=Reduce.MEAN,
    signal=_behind_ankle,
    against=(1.0,),
    doubt=1.15,
)
TRAVEL: Final = Measure(
    name="pelvis_travel_to_target",
    title="Travel of the pelvis toward the target",
    unit=BODY_PERCENT,
    description="How far the middle of the hips has come toward the target since address.",
    views=(View.FACE_ON,),
    needs=HIPS,
    start=7.0,
    end=7.0,
    reduce=Reduce.MEAN,
    signal=_travel,
    against=(1.0,),
    doubt=0.95,
)

DEFINITION: Final = FaultDefinition(
    name="hips_past_lead_foot",
    title="Lower body sliding past the lead foot",
    description=(
        "Coming down, the pelvis goes on sliding toward the target instead of turning over the "
        "lead foot: at impact (P7) its lead side is past the foot and its middle nearly over it."
    ),
    criteria={
        View.FACE_ON: (
            Criterion(
                BEHIND_ANKLE,
                below=2.0,
                grey=1.0,
                moderate=0.0,
                marked=-2.5,
                reference=COMMON_PRACTICE,
                note="The lead hip is some 4 % of body height nearer the target than the middle.",
            ),
            # Feet close together bring the hips near the ankle without a slide.
            Criterion(
                TRAVEL,
                above=6.0,
                grey=1.0,
                moderate=8.0,
                marked=10.5,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "The upper body has drifted off the ball and the pelvis makes up for it.",
        "The pelvis is pushed at the target instead of being turned.",
    ),
    checkpoint=(
        "Stand a shaft in the ground just outside the lead foot, out of the club's way, and "
        "rehearse slowly from the top to impact: the lead hip comes to it and turns back without "
        "pushing it over."
    ),
    brings=("trail_shoulder_drop",),
    unless=("camera_leans", "camera_moves", "legs_exchanged"),
    kept="Through impact, the pelvis does not slide past the lead foot.",
)
