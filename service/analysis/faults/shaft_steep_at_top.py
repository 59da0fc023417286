"""Over-steep shaft at the top."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.events.normalized import NormalizedSwing
from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
from service.analysis.measures.body_lines import shaft, shaft_foreshortened
from service.analysis.measures.definition import Measure, Reduce, high
from service.analysis.pose import geometry
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View


def _offset_from_shoulder(swing: NormalizedSwing) -> FloatArray:
    """Distance of the shaft's line from the trail shoulder in trail upper-arm lengths.

    Positive when the line passes above the shoulder, negative below it.
    """
    grip, clubhead = shaft(swing)
    shoulder = swing.point(Point.TRAIL_SHOULDER)
    # With the clubhead behind the hands, right of the line from grip to head is above it.
    offset = geometry.height_above_line(shoulder, grip, clubhead)
    upper_arm = geometry.distance(shoulder, swing.point(Point.TRAIL_ELBOW))
    too_short = shaft_foreshortened(swing)
    return np.where(too_short, np.nan, offset / high(upper_arm))


SHAFT_OFFSET: Final = Measure(
    name="shaft_offset_from_trail_shoulder",
    title="Shaft line above the trail shoulder",
    unit="upper-arm lengths",
    description=(
        "Distance, seen down the line, of the line of the shaft from the trail shoulder on average "
        "over the last quarter of the hands' way to P5: 0 through the shoulder, -0.5 through the "
        "middle of the upper arm; a shaft tipped over toward the ball counts as above it."
    ),
    views=(View.DOWN_THE_LINE,),
    needs=(Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW, Point.LEAD_WRIST, Point.CLUBHEAD),
    start=4.75,
    end=5.0,
    reduce=Reduce.MEAN,
    signal=_offset_from_shoulder,
)

DEFINITION: Final = FaultDefinition(
    name="shaft_steep_at_top",
    title="Over-steep shaft at the top",
    description=(
        "From the top into the start down the shaft stands too upright: seen down the line it "
        "passes above the trail shoulder."
    ),
    criteria={
        View.DOWN_THE_LINE: (
            Criterion(
                SHAFT_OFFSET,
                above=0.0,
                grey=0.1,
                moderate=0.2,
                marked=0.4,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "The arms were lifted at the top, so the club has only one way down.",
        "The hands throw the club at the ball from the top.",
        "The chest turns open before the arms have dropped.",
    ),
    checkpoint=(
        "Rehearse slowly from the top to lead arm level (P5) and stop: seen down the line the "
        "shaft should lie over the middle of the trail upper arm."
    ),
    brings=(
        "trail_heel_kick",
        "trail_shoulder_drop",
        "handle_rise",
        "trunk_straightens",
        "hips_toward_ball",
    ),
    min_frames=0.5,  # of the start down, in which the shaft turns little
    kept="From the top the shaft starts down below the trail shoulder.",
)
