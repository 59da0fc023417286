"""Arms lifting at the top."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.events.normalized import NormalizedSwing, grid_index
from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
from service.analysis.measures.body_lines import (
    SHOULDERS,
    WRISTS,
    chest_turn,
    hands,
    lead_arm_elevation,
)
from service.analysis.measures.definition import Measure, Reduce, constant, placewise
from service.analysis.pose import geometry
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View

_LEAD_ARM_ENDS: Final = (Point.LEAD_SHOULDER, Point.LEAD_WRIST)
_ADDRESS_P3_P4: Final = (grid_index(1.0), grid_index(3.0), grid_index(4.0))


@placewise
def _path_steepness(swing: NormalizedSwing) -> FloatArray:
    """Direction of the hands from P3 to P4: 90 is straight up, less is up and in."""
    _, arm_parallel, top = hands(swing.at(_ADDRESS_P3_P4)).swapaxes(0, 1)
    way = top - arm_parallel
    return constant(np.degrees(np.arctan2(way[:, 1], -way[:, 0])), swing)


@placewise
def _arm_above_shoulders(swing: NormalizedSwing) -> FloatArray:
    """How much steeper the lead arm lies than the line of the shoulders."""
    arm = geometry.elevation(swing.point(Point.LEAD_SHOULDER), swing.point(Point.LEAD_WRIST))
    line = geometry.elevation(swing.point(Point.LEAD_SHOULDER), swing.point(Point.TRAIL_SHOULDER))
    return arm - line


@placewise
def _turn_gained(swing: NormalizedSwing) -> FloatArray:
    _, arm_parallel, top = chest_turn(swing.at(_ADDRESS_P3_P4)).T
    return constant(top - arm_parallel, swing)


def _elevation_gained(swing: NormalizedSwing) -> FloatArray:
    """Elevation of the lead arm at P4. At P3 it is level by definition: what it looks like where P3
    was placed tells how well that was done and no more."""
    return constant(lead_arm_elevation(swing)[:, grid_index(4.0)], swing)


PATH_STEEPNESS: Final = Measure(
    name="hand_path_steepness",
    title="Hand path from P3 to P4",
    unit="degrees",
    description=(
        "Direction, seen down the line, from the middle of the wrists at P3 to where it is at P4: "
        "90 is straight up, less is up and in."
    ),
    views=(View.DOWN_THE_LINE,),
    needs=WRISTS,
    start=3.0,
    end=4.0,
    reduce=Reduce.MEAN,
    signal=_path_steepness,
    doubt=1.15,
)
ARM_ABOVE_SHOULDERS: Final = Measure(
    name="lead_arm_above_shoulder_line",
    title="Lead arm above the shoulder line",
    unit="degrees",
    description=(
        "How much steeper the lead arm, from shoulder to wrist, lies than the line of the "
        "shoulders as both look down the line."
    ),
    views=(View.DOWN_THE_LINE,),
    needs=(*SHOULDERS, Point.LEAD_WRIST),
    start=4.0,
    end=4.0,
    reduce=Reduce.MEAN,
    signal=_arm_above_shoulders,
    doubt=1.05,
)
ELEVATION_GAINED: Final = Measure(
    name="lead_arm_elevation_gained",
    title="Rise of the lead arm from P3 to P4",
    unit="degrees",
    description="How far the lead arm goes on rising after it was parallel to the ground.",
    views=(View.FACE_ON,),
    needs=_LEAD_ARM_ENDS,
    start=3.0,
    end=4.0,
    reduce=Reduce.MEAN,
    signal=_elevation_gained,
    doubt=1.35,
)
TURN_GAINED: Final = Measure(
    name="chest_turn_gained",
    title="Chest turn from P3 to P4",
    unit="degrees",
    description=(
        "How far the line of the shoulders goes on turning about the vertical after the lead arm "
        "was parallel."
    ),
    views=(View.FACE_ON,),
    needs=SHOULDERS,
    start=3.0,
    end=4.0,
    reduce=Reduce.MEAN,
    signal=_turn_gained,
    against=(1.0,),
    doubt=0.9,
)

DEFINITION: Final = FaultDefinition(
    name="arms_lift_at_top",
    title="Arms lifting at the top",
    description=(
        "Between lead arm level (P3) and the top (P4) the hands and the lead arm go up "
        "instead of up and in."
    ),
    criteria={
        View.DOWN_THE_LINE: (
            Criterion(
                PATH_STEEPNESS,
                above=82.0,
                grey=5.0,
                moderate=89.0,
                marked=96.0,
                reference=COMMON_PRACTICE,
            ),
            Criterion(
                ARM_ABOVE_SHOULDERS,
                above=22.0,
                grey=6.0,
                moderate=30.0,
                marked=38.0,
                reference=COMMON_PRACTICE,
            ),
        ),
        View.FACE_ON: (
            Criterion(
                ELEVATION_GAINED,
                above=35.0,
                grey=8.0,
                moderate=45.0,
                marked=55.0,
                reference=COMMON_PRACTICE,
            ),
            Criterion(
                TURN_GAINED,
                below=9.0,
                grey=4.0,
                moderate=5.0,
                marked=1.0,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "The chest stops turning before the arms have finished.",
        "The arms are swung to make the backswing feel long.",
        "The trail elbow leaves the side early.",
    ),
    checkpoint=(
        "Stop halfway between P3 and P4: seen down the line, the hands have moved in over the "
        "trail shoulder as much as they have risen. Turn the chest for the rest of the backswing."
    ),
    brings=("shaft_steep_at_top", "long_backswing"),
    shows_at=4.0,
    kept="The arms finish the backswing together with the turn of the chest.",
)
