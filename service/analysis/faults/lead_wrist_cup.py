"""Lead wrist cupping after impact."""

from __future__ import annotations

from typing import Final

from service.analysis.events.normalized import NormalizedSwing
from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
from service.analysis.measures.body_lines import shaft
from service.analysis.measures.definition import Measure, Reduce, placewise
from service.analysis.pose import geometry
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View


@placewise
def _clubhead_ahead(swing: NormalizedSwing) -> FloatArray:
    """Angle by which the shaft has turned past the line of the lead arm toward the target.

    The arm's line runs from shoulder to wrist, so that a bending elbow does not pass for a
    folding wrist.
    """
    shoulder, wrist = swing.point(Point.LEAD_SHOULDER), swing.point(Point.LEAD_WRIST)
    _, clubhead = shaft(swing)
    return geometry.turn_between(wrist - shoulder, clubhead - wrist)


CLUBHEAD_AHEAD: Final = Measure(
    name="clubhead_ahead_of_hands",
    title="Clubhead ahead of the lead arm's line",
    unit="degrees",
    description=(
        "Angle, as it looks face-on, by which the shaft has passed the line of the lead arm from "
        "shoulder to wrist."
    ),
    views=(View.FACE_ON,),
    needs=(Point.LEAD_SHOULDER, Point.LEAD_WRIST, Point.CLUBHEAD),
    start=7.5,
    end=8.0,
    reduce=Reduce.MAX,
    signal=_clubhead_ahead,
    doubt=1.05,
)

DEFINITION: Final = FaultDefinition(
    name="lead_wrist_cup",
    title="Lead wrist cupping after impact",
    description=(
        "Before the shaft is level after impact (P8) the clubhead has passed the hands and "
        "the back of the lead wrist has folded into a cup."
    ),
    criteria={
        View.FACE_ON: (
            Criterion(
                CLUBHEAD_AHEAD,
                above=58.0,
                grey=6.0,
                moderate=67.0,
                marked=76.0,
                reference=COMMON_PRACTICE,
                note="A strong grip shows some cup of its own; compare with the wrist at address.",
            ),
        ),
    },
    causes=(
        "The hands slow down before impact and the clubhead overtakes them.",
        "The club is scooped to help the ball into the air.",
    ),
    checkpoint=(
        "Hit half shots and stop at P8: feel that the back of the lead hand has folded no further "
        "than at address."
    ),
    brings=("elbows_separate",),
    kept="After impact the lead wrist holds without folding far.",
)
