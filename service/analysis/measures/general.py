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
    placewise,
)
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View


@placewise
def tempo_ratio(swing: NormalizedSwing) -> FloatArray:
    """Backswing time (P1 to P4) over downswing time (P4 to P7)."""
    up = swing.time_at(4.0) - swing.time_at(1.0)
    return constant(up / np.maximum(swing.time_at(7.0) - swing.time_at(4.0), 1e-3), swing)


def _at(
    position: float,
    name: str,
    title: str,
    unit: str,
    description: str,
    views: tuple[View, ...],
    needs: tuple[Point, ...],
    signal: Signal,
    against: tuple[float, ...] = (),
    *,
    unsigned: bool = False,
) -> Measure:
    named = f"{name}_p{position:g}"
    return Measure(
        named,
        title,
        unit,
        description,
        views,
        needs,
        position,
        position,
        Reduce.MEAN,
        signal,
        against,
        unsigned=unsigned,
        doubt=_DOUBT.get(named, 1.0),
        shaped=False,
    )


_DOUBT: Final[Mapping[str, float]] = {
    "chest_turn_p4": 1.1,
    "chest_turn_p7": 1.4,
    "chest_turn_p9": 1.05,
    "lead_arm_elevation_p4": 1.6,
    "lead_arm_to_shaft_p5": 1.15,
    "lead_arm_to_shaft_p7": 1.1,
    "lead_arm_to_shaft_p8": 1.1,
    "lead_elbow_flexion_p4": 1.15,
    "lead_elbow_flexion_p7": 1.2,
    "lead_elbow_flexion_p8": 1.1,
    "shaft_direction_p4": 1.1,
    "shaft_direction_p4.5": 1.3,
    "shaft_direction_p5": 1.45,
    "trail_elbow_flexion_p4": 1.2,
    "trail_elbow_flexion_p7": 1.25,
    "trail_elbow_flexion_p8": 1.45,
    "trunk_lean_p1": 1.05,
    "trunk_lean_p4": 1.3,
    "trunk_lean_p7": 1.15,
}
"""Factors on uncertainties (:attr:`Measure.doubt`), set view by view: an arm that is lost at the
top and a club that is bridged coming down are off by more than their points' errors tell."""
_FACE_ON: Final = (View.FACE_ON,)
_WRIST: Final = (Point.LEAD_ELBOW, Point.LEAD_WRIST, Point.CLUBHEAD)

TEMPO_RATIO: Final = Measure(
    "tempo_ratio",
    "Tempo ratio",
    "times",
    "Time of the backswing (P1 to P4) over the time of the downswing (P4 to P7).",
    BOTH_VIEWS,
    (),
    4.0,
    7.0,
    Reduce.MEAN,
    tempo_ratio,
    against=(1.0,),
    observed=(1,),
    ratio=True,
    doubt={View.FACE_ON: 0.9, View.DOWN_THE_LINE: 1.0},
)


def _times() -> tuple[Measure, ...]:
    backswing = Measure(
        "backswing_time",
        "Backswing time",
        "seconds",
        "Time from P1 to P4.",
        BOTH_VIEWS,
        (),
        1.0,
        4.0,
        Reduce.MEAN,
        placewise(lambda swing: constant(swing.time_at(4.0) - swing.time_at(1.0), swing)),
        observed=(1,),
        shaped=False,
    )
    downswing = Measure(
        "downswing_time",
        "Downswing time",
        "seconds",
        "Time from P4 to P7.",
        BOTH_VIEWS,
        (),
        4.0,
        7.0,
        Reduce.MEAN,
        placewise(lambda swing: constant(swing.time_at(7.0) - swing.time_at(4.0), swing)),
        shaped=False,
    )
    return backswing, downswing


def _of_trunk_and_head() -> tuple[Measure, ...]:
    leans = [
        _at(
            position,
            "trunk_lean",
            "Trunk lean",
            "degrees",
            "Down the line the bend of the spine toward the ball; face-on its lean away from "
            "the target.",
            BOTH_VIEWS,
            (*SHOULDERS, *HIPS),
            trunk_lean,
        )
        for position in (1.0, 4.0, 7.0)
    ]
    turns = [
        _at(
            position,
            name,
            title,
            "degrees",
            f"How far the line of the {ends} has turned about the vertical since address, told "
            "from how narrow it looks; coarse below 30 degrees.",
            _FACE_ON,
            pair,
            signal,
            (1.0,),
        )
        for position in (4.0, 7.0, 9.0)
        for name, title, ends, pair, signal in (
            ("chest_turn", "Chest turn", "shoulders", SHOULDERS, chest_turn),
            ("pelvis_turn", "Pelvis turn", "hips", HIPS, pelvis_turn),
        )
    ]
    heads = [
        _at(
            position,
            "head_turn",
            "Head turn",
            "degrees",
            "Turn of the face toward the target.",
            _FACE_ON,
            (Point.NOSE, Point.LEAD_EAR, Point.TRAIL_EAR),
            head_turn,
        )
        for position in (4.0, 7.0, 9.0)
    ]
    return (*leans, *turns, *heads)


def _of_arms_and_club() -> tuple[Measure, ...]:
    elbows = [
        _at(
            position,
            f"{side}_elbow_flexion",
            f"{side.capitalize()} elbow flexion",
            "degrees",
            "Bend of the elbow as it looks in the picture; 0 is a straight arm.",
            BOTH_VIEWS,
            arm,
            signal,
            unsigned=True,
        )
        for position in (4.0, 7.0, 8.0)
        for side, arm, signal in (
            ("lead", LEAD_ARM, lead_elbow_flexion),
            ("trail", TRAIL_ARM, trail_elbow_flexion),
        )
    ]
    wrists = [
        _at(
            position,
            "lead_arm_to_shaft",
            "Lead-arm-to-shaft angle",
            "degrees",
            "Between lead forearm and shaft as it looks in the picture; 180 is one line.",
            BOTH_VIEWS,
            _WRIST,
            wrist_angle,
        )
        for position in (4.0, 5.0, 6.0, 7.0, 8.0)
    ]
    elevation = _at(
        4.0,
        "lead_arm_elevation",
        "Elevation of the lead arm",
        "degrees",
        "How far the lead arm points above the horizontal; 0 is parallel to the ground. A "
        "camera that stands close overrates it down the line.",
        BOTH_VIEWS,
        (Point.LEAD_SHOULDER, Point.LEAD_WRIST),
        lead_arm_elevation,
    )
    shafts = [
        _at(
            position,
            "shaft_direction",
            "Shaft direction",
            "degrees",
            "From grip to clubhead in the picture: 0 toward the target or the ball, 90 up.",
            BOTH_VIEWS,
            (Point.LEAD_WRIST, Point.CLUBHEAD),
            shaft_direction,
        )
        for position in (4.0, 4.5, 5.0)
    ]
    return (*elbows, *wrists, elevation, *shafts)


GENERAL: Final[tuple[Measure, ...]] = (*_times(), *_of_trunk_and_head(), *_of_arms_and_club())
"""Measures that belong to no fault."""
