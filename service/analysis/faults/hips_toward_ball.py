"""Pelvis moving toward the ball coming down."""

from __future__ import annotations

from typing import Final

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
from service.analysis.types import FloatArray, View


@placewise
def _pelvis_travel(swing: NormalizedSwing) -> FloatArray:
    """Travel of the middle of the hips toward the ball.

    The middle, because the hips change places toward the ball as the pelvis turns, and because
    annotators and estimators differ by some 3 % of body height in how far out they put them.
    """
    return against_address(mid_hips(swing)[..., 0])


PELVIS_TRAVEL: Final = Measure(
    name="pelvis_travel_to_ball",
    title="Travel of the pelvis toward the ball",
    unit=BODY_PERCENT,
    description=(
        "How much nearer the ball the middle of the hips is from P6 to impact, on average, than "
        "it was at address."
    ),
    views=(View.DOWN_THE_LINE,),
    needs=HIPS,
    start=6.0,
    end=7.0,
    reduce=Reduce.MEAN,
    signal=_pelvis_travel,
    against=(1.0,),
)

DEFINITION: Final = FaultDefinition(
    name="hips_toward_ball",
    title="Pelvis moving toward the ball coming down",
    description=(
        "From P6 to impact (P7) the pelvis stands nearer the ball than it did at address, instead "
        "of turning where it was, and takes the room from the arms."
    ),
    criteria={
        View.DOWN_THE_LINE: (
            Criterion(
                PELVIS_TRAVEL,
                above=3.5,
                grey=0.7,
                moderate=5.0,
                marked=7.0,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "The club comes down steep and the pelvis moves to make room for it.",
        "The player pushes off the toes instead of turning.",
    ),
    checkpoint=(
        "Stand so that your seat just touches a chair at address and swing slowly to impact: it "
        "stays on the chair, the lead side taking over from the trail side."
    ),
    brings=("trunk_straightens", "trail_heel_kick", "trail_knee_drive", "handle_rise"),
    min_frames=0.5,
    unless=("camera_moves",),
    kept="Coming down, the pelvis keeps its distance from the ball.",
)
