"""Backswing running long."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.events.normalized import NormalizedSwing
from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
from service.analysis.measures.definition import Measure, Reduce, placewise
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View

_FARTHEST: Final[float] = 210.0
"""Degrees beyond which no lead arm swings at the top: it would lean 30 past straight up toward the
target, where annotated real swings reach 177. Such a wrist was not seen; judgement."""


@placewise
def _arm_swing(swing: NormalizedSwing) -> FloatArray:
    """How far the lead arm has swung back from hanging: 90 is parallel, 180 straight up; NaN where
    no arm swings."""
    arm = swing.point(Point.LEAD_WRIST) - swing.point(Point.LEAD_SHOULDER)
    swung = np.degrees(np.arctan2(-arm[..., 0], -arm[..., 1]))
    # Past straight up the arm leans toward the target and the angle goes on growing.
    swung = np.where(swung < -90.0, swung + 360.0, swung)
    # Drawn errors may go on from where an arm does swing: they tell how unsure it is.
    astray = (swung > _FARTHEST) & ~swing.drawn[:, None]
    return np.where(astray, np.nan, swung)


ARM_SWING: Final = Measure(
    name="lead_arm_swing",
    title="Swing of the lead arm at the top",
    unit="degrees",
    description=(
        "Direction of the lead arm, shoulder to wrist, as it looks face-on, from hanging straight "
        "down: 90 is parallel to the ground, 180 straight up."
    ),
    views=(View.FACE_ON,),
    needs=(Point.LEAD_SHOULDER, Point.LEAD_WRIST),
    start=4.0,
    end=4.0,
    reduce=Reduce.MEAN,
    signal=_arm_swing,
    doubt=1.2,
)

DEFINITION: Final = FaultDefinition(
    name="long_backswing",
    title="Backswing running long",
    description=(
        "At the top the arms have gone past a controlled position: the lead arm points steeply "
        "up and the club is carried far past level."
    ),
    criteria={
        View.FACE_ON: (
            Criterion(
                ARM_SWING,
                above=158.0,
                grey=5.0,
                moderate=166.0,
                marked=174.0,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "The arms run on after the turn has stopped.",
        "The player looks for distance in the length of the backswing.",
    ),
    checkpoint=(
        "Make the backswing only as long as the chest turns: feel that it stops halfway "
        "between lead arm level (P3) and the top (P4), pause, "
        "and swing through from there."
    ),
    brings=("hurried_transition",),
    unless=("camera_leans",),
    kept="The backswing ends at a top under control.",
)
