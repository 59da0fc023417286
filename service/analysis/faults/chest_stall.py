"""Head held down while the chest stalls after impact."""

from __future__ import annotations

from typing import Final

from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
from service.analysis.measures.body_lines import SHOULDERS, chest_turn, head_turn
from service.analysis.measures.definition import Measure, Reduce
from service.analysis.pose.points import Point
from service.analysis.types import View

CHEST_THROUGH: Final = Measure(
    name="chest_turn_through",
    title="Chest turn through the ball",
    unit="degrees",
    description=(
        "Turn of the line of the shoulders about the vertical toward the target after impact, 0 "
        "being square as at address."
    ),
    views=(View.FACE_ON,),
    needs=SHOULDERS,
    start=8.5,
    end=9.0,
    reduce=Reduce.MAX,
    signal=chest_turn,
    against=(1.0,),
)
HEAD_THROUGH: Final = Measure(
    name="head_turn_through",
    title="Head turn through the ball",
    unit="degrees",
    description="Turn of the face toward the target after impact.",
    views=(View.FACE_ON,),
    needs=(Point.NOSE, Point.LEAD_EAR, Point.TRAIL_EAR),
    start=8.5,
    end=9.0,
    reduce=Reduce.MAX,
    signal=head_turn,
    doubt=0.9,
)

DEFINITION: Final = FaultDefinition(
    name="chest_stall",
    title="Head held down while the chest stalls",
    description=(
        "After impact the head stays down over the ball and the chest stops turning, where both "
        "should follow the arms toward the target by trail arm level (P9)."
    ),
    criteria={
        View.FACE_ON: (
            Criterion(
                CHEST_THROUGH,
                below=62.0,
                grey=6.0,
                moderate=52.0,
                marked=42.0,
                reference=COMMON_PRACTICE,
            ),
            Criterion(
                HEAD_THROUGH,
                below=20.0,
                grey=6.0,
                moderate=12.0,
                marked=5.0,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "The player tries to keep the head down to strike the ball cleanly.",
        "The pelvis stops turning and the chest with it.",
    ),
    checkpoint="Let the trail shoulder bring the head up: at P9 the chest faces the target.",
    brings=("elbows_separate", "lead_wrist_cup"),
    min_frames=0.25,
    kept="Chest and head turn through together with the arms.",
)
