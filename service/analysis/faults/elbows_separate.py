"""Elbows separating through impact."""

from __future__ import annotations

from typing import Final

from service.analysis.events.normalized import NormalizedSwing
from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
from service.analysis.measures.body_lines import LEAD_ARM, lead_elbow_flexion
from service.analysis.measures.definition import (
    BODY_PERCENT,
    Measure,
    Reduce,
    against_address,
    placewise,
)
from service.analysis.pose import geometry
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View


@placewise
def _elbow_gap(swing: NormalizedSwing) -> FloatArray:
    return against_address(
        geometry.distance(swing.point(Point.LEAD_ELBOW), swing.point(Point.TRAIL_ELBOW))
    )


ELBOW_GAP: Final = Measure(
    name="elbow_gap_growth",
    title="Growth of the gap between the elbows",
    unit=BODY_PERCENT,
    description=(
        "Distance between the elbows as it looks in the picture, against address. A chest that has "
        "turned makes it look smaller, so that elbows which stay together come to less than 0."
    ),
    views=(View.FACE_ON,),
    needs=(Point.LEAD_ELBOW, Point.TRAIL_ELBOW),
    start=7.5,
    end=8.5,
    reduce=Reduce.MAX,
    signal=_elbow_gap,
    against=(1.0,),
    doubt=1.1,
)
LEAD_ARM_BEND: Final = Measure(
    name="lead_elbow_bend_through",
    title="Bend of the lead elbow through impact",
    unit="degrees",
    description="Bend of the lead elbow as it looks in the picture; 0 is straight.",
    views=(View.FACE_ON,),
    needs=LEAD_ARM,
    start=7.5,
    end=8.5,
    reduce=Reduce.MAX,
    signal=lead_elbow_flexion,
    doubt=1.2,
)

DEFINITION: Final = FaultDefinition(
    name="elbows_separate",
    title="Elbows separating through impact",
    description=(
        "From impact (P7) toward trail arm level (P9) the gap between the elbows, as it looks "
        "face-on, grows against address and the arms bend, instead of staying together and long."
    ),
    criteria={
        View.FACE_ON: (
            Criterion(
                ELBOW_GAP, above=0.0, grey=1.0, moderate=1.5, marked=3.0, reference=COMMON_PRACTICE
            ),
            Criterion(
                LEAD_ARM_BEND,
                above=27.0,
                grey=6.0,
                moderate=36.0,
                marked=46.0,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "The handle rises and leaves no room for the arms to stay long.",
        "The chest stops turning, so the arms have to pull across it.",
    ),
    checkpoint=(
        "Swing slowly to P8 and stop: both arms long, the elbows no further apart than they were "
        "at address."
    ),
    min_frames=1.0,
    kept="Both arms stay long and close together through impact.",
)
