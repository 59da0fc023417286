"""Wrists opening early from the top."""

from __future__ import annotations

from typing import Final

from service.analysis.events.normalized import NormalizedSwing, grid_index
from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
from service.analysis.measures.body_lines import wrist_hinge
from service.analysis.measures.definition import Measure, Reduce
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View

_NEEDS: Final = (Point.LEAD_SHOULDER, Point.LEAD_WRIST, Point.CLUBHEAD)


def _opened(swing: NormalizedSwing) -> FloatArray:
    """How much wider the angle between lead arm and shaft is than at the top."""
    hinge = wrist_hinge(swing)
    return hinge - hinge[:, [grid_index(4.0)]]


HINGE: Final = Measure(
    name="wrist_hinge_coming_down",
    title="Angle between lead arm and shaft at P5",
    unit="degrees",
    description=(
        "90 when the shaft is square to the lead arm, 180 when they are in one line; from what of "
        "their full lengths is seen face-on, so that a shaft that points away from the camera does "
        "not mislead. What both have along the line of sight is left out: up to some 10 degrees."
    ),
    views=(View.FACE_ON,),
    needs=_NEEDS,
    start=5.0,
    end=5.0,
    reduce=Reduce.MEAN,
    signal=wrist_hinge,
    doubt=1.15,
    # What is left out makes it wider by 2 to 15 degrees in the middle, by make of golfer, and by 5
    # to 7 more or less from one golfer to the next.
    left_out=5.0,
)
OPENED: Final = Measure(
    name="wrist_hinge_opened",
    title="Opening of the wrists from P4 to P5",
    unit="degrees",
    description="How much wider the angle between lead arm and shaft is at P5 than at the top.",
    views=(View.FACE_ON,),
    needs=_NEEDS,
    start=5.0,
    end=5.0,
    reduce=Reduce.MEAN,
    signal=_opened,
    against=(4.0,),
    doubt=1.05,
)

DEFINITION: Final = FaultDefinition(
    name="wrists_open_early",
    title="Wrists opening early from the top",
    description=(
        "From the top (P4) to lead arm level coming down (P5) the wrists throw the club open, "
        "so that the angle between lead arm and shaft is spent before it can help."
    ),
    criteria={
        View.FACE_ON: (
            Criterion(
                HINGE,
                above=102.0,
                grey=5.0,
                moderate=112.0,
                marked=125.0,
                reference=COMMON_PRACTICE,
                note="Skilled players keep about a right angle up to here (from memory).",
            ),
            Criterion(
                OPENED,
                above=20.0,
                grey=5.0,
                moderate=30.0,
                marked=42.0,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "The downswing starts with the hands instead of with the lower body.",
        "The change of direction is snatched.",
    ),
    checkpoint=(
        "Rehearse slowly from the top to lead arm level (P5) and stop: the shaft is still "
        "about square to the lead arm."
    ),
    brings=("shaft_steep_at_top", "trunk_straightens", "lead_wrist_cup"),
    kept="The wrists keep their angle until the lead arm is level coming down.",
)
