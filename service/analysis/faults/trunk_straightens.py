"""Trunk straightening before impact."""

from __future__ import annotations

from typing import Final

from service.analysis.bibliography import cite
from service.analysis.events.normalized import NormalizedSwing
from service.analysis.faults.definition import Criterion, FaultDefinition
from service.analysis.measures.body_lines import HIPS, SHOULDERS, trunk_lean
from service.analysis.measures.definition import Measure, Reduce, placewise
from service.analysis.types import FloatArray, View


@placewise
def _bend_lost(swing: NormalizedSwing) -> FloatArray:
    """How much less the trunk bends toward the ball than at address."""
    lean = trunk_lean(swing)
    return lean[:, :1] - lean


FORWARD_BEND_LOST: Final = Measure(
    name="forward_bend_lost",
    title="Forward bend lost by impact",
    unit="degrees",
    description=(
        "How much more upright the trunk, from the middle of the hips to the middle of the "
        "shoulders, looks down the line at impact than at address."
    ),
    views=(View.DOWN_THE_LINE,),
    needs=(*SHOULDERS, *HIPS),
    start=7.0,
    end=7.0,
    reduce=Reduce.MEAN,
    signal=_bend_lost,
    against=(1.0,),
)

DEFINITION: Final = FaultDefinition(
    name="trunk_straightens",
    title="Trunk straightening before impact",
    description=(
        "Coming down, the trunk rises out of the forward bend that it had at address, so that at "
        "impact it stands clearly more upright."
    ),
    criteria={
        View.DOWN_THE_LINE: (
            Criterion(
                FORWARD_BEND_LOST,
                above=12.0,
                grey=2.5,
                moderate=16.0,
                marked=21.0,
                reference=(
                    f"{cite('caddieset2025')} Half of its shots down the line lose up to 6 "
                    "degrees, one in twenty more than 14; the threshold itself is common practice"
                ),
            ),
        ),
    },
    causes=(
        "The pelvis moves toward the ball and pushes the trunk up.",
        "The club comes down steep or is thrown out early, and the trunk makes room for it.",
    ),
    checkpoint=(
        "Rehearse slowly from P5 to impact in front of a mirror that shows you from the side, and "
        "stop: the trunk is bent over the ball as it was at address."
    ),
    brings=("handle_rise", "elbows_separate"),
    kept="The trunk keeps its forward bend until impact.",
)
