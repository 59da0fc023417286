"""Measures that belong to no fault: time, turns, bends and leans at the positions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from service.analysis.events.normalized import NormalizedSwing
from service.analysis.measures.body_lines import (
    HIPS,
    LEAD_ARM,
    SHOULDERS,
    TRAIL_ARM,
    chest_turn,
    head_turn,
    lead_arm_elevation,
    lead_elbow_flexion,
    pelvis_turn,
    shaft_direction,
    trail_elbow_flexion,
    trunk_lean,
    wrist_angle,
)
from service.analysis.measures.definition import (
    BOTH_VIEWS,
    Measure,
    Reduce,
    Signal,
    constant,
)
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View


def tempo_ratio(swing: NormalizedSwing) -> FloatArray:
    """Backswing time (P1 to P4) over downswing time (P4 to P7)."""
    up = swing.time_at(4.0) - swing.time_at(1.0)
    return constant(up / np.maximum(swing.time_at(7.0) - swing.time_at(4.0), 1e-3), swing)


def _at(
    position: float,
    *,
    name: str,
    title: str,
    description: str,
    views: tuple[View, ...],
    needs: tuple[Point, ...],
    signal: Signal,
    against: tuple[float, ...] = (),
    unsigned: bool = False,
) -> Measure:
    """An angle at one position, in degrees; the position becomes part of its name."""
    named = f"{name}_p{position:g}"
    return Measure(
        name=named,
        title=title,
        unit="degrees",
        description=description,
        views=views,
        needs=needs,
        start=position,
        end=position,
        reduce=Reduce.MEAN,
        signal=signal,
        against=against,
        unsigned=unsigned,
        doubt=_DOUBT.get(named, 1.0),
    )


_DOUBT: Final[Mapping[str, float]] = {
    "chest_turn_p7": 1.4,
    "lead_arm_elevation_p4": 1.35,
    "shaft_direction_p4.5": 1.25,
    "shaft_direction_p5": 1.3,
    "trail_elbow_flexion_p8": 1.2,
    "trunk_lean_p4": 1.25,
    "trunk_lean_p7": 1.15,
}
"""Factors on uncertainties (:attr:`Measure.doubt`) with which two of them hold 95 % of the truth
on all makes of golfers together (``python -m training.evaluation.sources``): an arm that is lost at
the top and a club that is bridged coming down are off by more than their points' errors tell."""
_FACE_ON: Final = (View.FACE_ON,)

TEMPO_RATIO: Final = Measure(
    name="tempo_ratio",
    title="Tempo ratio",
    unit="times",
    description="Time of the backswing (P1 to P4) over the time of the downswing (P4 to P7).",
    views=BOTH_VIEWS,
    needs=(),
    start=4.0,
    end=7.0,
    reduce=Reduce.MEAN,
    signal=tempo_ratio,
    against=(1.0,),
    observed=(1,),
    ratio=True,
)

_TIMES: Final = (
    Measure(
        name="backswing_time",
        title="Backswing time",
        unit="seconds",
        description="Time from P1 to P4.",
        views=BOTH_VIEWS,
        needs=(),
        start=1.0,
        end=4.0,
        reduce=Reduce.MEAN,
        signal=lambda swing: constant(swing.time_at(4.0) - swing.time_at(1.0), swing),
        observed=(1,),
    ),
    Measure(
        name="downswing_time",
        title="Downswing time",
        unit="seconds",
        description="Time from P4 to P7.",
        views=BOTH_VIEWS,
        needs=(),
        start=4.0,
        end=7.0,
        reduce=Reduce.MEAN,
        signal=lambda swing: constant(swing.time_at(7.0) - swing.time_at(4.0), swing),
    ),
)
_LEANS: Final = tuple(
    _at(
        position,
        name="trunk_lean",
        title="Trunk lean",
        description=(
            "Down the line the bend of the spine toward the ball; face-on its lean away from the "
            "target."
        ),
        views=BOTH_VIEWS,
        needs=(*SHOULDERS, *HIPS),
        signal=trunk_lean,
    )
    for position in (1.0, 4.0, 7.0)
)
_TURNS: Final = tuple(
    _at(
        position,
        name=name,
        title=title,
        description="From how narrow the line looks against address; coarse below 30 degrees.",
        views=_FACE_ON,
        needs=line,
        signal=signal,
        against=(1.0,),
    )
    for position in (4.0, 7.0, 9.0)
    for name, title, line, signal in (
        ("chest_turn", "Chest turn", SHOULDERS, chest_turn),
        ("pelvis_turn", "Pelvis turn", HIPS, pelvis_turn),
    )
)
_HEAD_TURNS: Final = tuple(
    _at(
        position,
        name="head_turn",
        title="Head turn",
        description="Turn of the face toward the target.",
        views=_FACE_ON,
        needs=(Point.NOSE, Point.LEAD_EAR, Point.TRAIL_EAR),
        signal=head_turn,
    )
    for position in (4.0, 7.0, 9.0)
)
_ELBOWS: Final = tuple(
    _at(
        position,
        name=f"{side}_elbow_flexion",
        title=f"{side.capitalize()} elbow flexion",
        description="0 is a straight arm, as it looks in the picture.",
        views=BOTH_VIEWS,
        needs=arm,
        signal=signal,
        unsigned=True,
    )
    for position in (4.0, 7.0, 8.0)
    for side, arm, signal in (
        ("lead", LEAD_ARM, lead_elbow_flexion),
        ("trail", TRAIL_ARM, trail_elbow_flexion),
    )
)
_WRISTS: Final = tuple(
    _at(
        position,
        name="lead_arm_to_shaft",
        title="Lead-arm-to-shaft angle",
        description="180 when lead forearm and shaft are in one line, as it looks in the picture.",
        views=BOTH_VIEWS,
        needs=(Point.LEAD_ELBOW, Point.LEAD_WRIST, Point.CLUBHEAD),
        signal=wrist_angle,
    )
    for position in (4.0, 5.0, 6.0, 7.0, 8.0)
)
_ARM: Final = _at(
    4.0,
    name="lead_arm_elevation",
    title="Elevation of the lead arm",
    description=(
        "Above the horizontal; 0 is parallel to the ground. A camera that stands close overrates "
        "it down the line."
    ),
    views=BOTH_VIEWS,
    needs=(Point.LEAD_SHOULDER, Point.LEAD_WRIST),
    signal=lead_arm_elevation,
)
_SHAFTS: Final = tuple(
    _at(
        position,
        name="shaft_direction",
        title="Shaft direction",
        description="From grip to clubhead in the picture: 0 toward the target or the ball, 90 up.",
        views=BOTH_VIEWS,
        needs=(Point.LEAD_WRIST, Point.CLUBHEAD),
        signal=shaft_direction,
    )
    for position in (4.0, 4.5, 5.0)
)

GENERAL: Final[tuple[Measure, ...]] = (
    *_TIMES,
    *_LEANS,
    *_TURNS,
    *_HEAD_TURNS,
    *_ELBOWS,
    *_WRISTS,
    _ARM,
    *_SHAFTS,
)
"""Measures that belong to no fault."""
