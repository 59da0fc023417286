"""Backswing running long."""

from __future__ import annotations

from typing import Final

from service.analysis.faults._definition import (
    COMMON_PRACTICE,
    Criterion,
    Direction,
    FaultDefinition,
)
from service.analysis.measures import BOTH_VIEWS, Measure, Reduce, lead_arm_elevation
from service.analysis.points import Point

LEAD_ARM_ELEVATION: Final = Measure(
    name="lead_arm_elevation",
    title="Elevation of the lead arm at the top",
    unit="degrees",
    description="Angle of the lead arm above the horizontal; 0 is parallel to the ground.",
    views=BOTH_VIEWS,
    needs=(Point.LEAD_SHOULDER, Point.LEAD_WRIST),
    start=4.0,
    end=4.0,
    reduce=Reduce.MEAN,
    course=lead_arm_elevation,
)
_CRITERIA: Final = (
    Criterion(
        LEAD_ARM_ELEVATION, Direction.ABOVE, 60.0, 6.0, 68.0, 76.0, reference=COMMON_PRACTICE
    ),
)

DEFINITION: Final = FaultDefinition(
    name="long_backswing",
    title="Backswing running long",
    description=(
        "At the top the arms have gone past a controlled position: the lead arm points steeply "
        "up and the club is carried far past parallel."
    ),
    criteria=dict.fromkeys(BOTH_VIEWS, _CRITERIA),
    causes=(
        "The arms run on after the turn has stopped.",
        "The player looks for distance in the length of the backswing.",
    ),
    checkpoint=(
        "Stop the backswing at P3.5, take one more club and swing easier; the ball will go as far."
    ),
    brings=("hurried_transition",),
)
