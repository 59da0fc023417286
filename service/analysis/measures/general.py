"""Measures that belong to no fault: time, turns, bends and leans at the positions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
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


@placewise
def _backswing_time(swing: NormalizedSwing) -> FloatArray:
    return constant(swing.time_at(4.0) - swing.time_at(1.0), swing)


@placewise
def _downswing_time(swing: NormalizedSwing) -> FloatArray:
    return constant(swing.time_at(7.0) - swing.time_at(4.0), swing)


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
    doubt={View.FACE_ON: 0.9, View.DOWN_THE_LINE: 1.0},
)
_BACKSWING_TIME: Final = Measure(
    name="backswing_time",
    title="Backswing time",
    unit="seconds",
    description="Time from P1 to P4.",
    views=BOTH_VIEWS,
    needs=(),
    start=1.0,
    end=4.0,
    reduce=Reduce.MEAN,
    signal=_backswing_time,
    observed=(1,),
    shaped=False,
)
_DOWNSWING_TIME: Final = Measure(
    name="downswing_time",
    title="Downswing time",
    unit="seconds",
    description="Time from P4 to P7.",
    views=BOTH_VIEWS,
    needs=(),
    start=4.0,
    end=7.0,
    reduce=Reduce.MEAN,
    signal=_downswing_time,
    shaped=False,
)


@dataclass(frozen=True, kw_only=True)
class _Angle:
    """An angle in degrees that is told at several positions, each a measure of its own.

    Attributes
    ----------
    doubt
        The positions at which it is told, each with its :attr:`Measure.doubt`: an arm that is lost
        at the top and a club that is bridged coming down are off by more than their points' errors
        tell.

    Others as of a :class:`Measure`.
    """

    name: str
    title: str
    description: str
    views: tuple[View, ...] = BOTH_VIEWS
    needs: tuple[Point, ...]
    signal: Signal
    doubt: Mapping[float, float]
    against: tuple[float, ...] = ()
    unsigned: bool = False

    def at(self, position: float) -> Measure:
        """The measure at a position."""
        return Measure(
            name=f"{self.name}_p{position:g}",
            title=self.title,
            unit="degrees",
            description=self.description,
            views=self.views,
            needs=self.needs,
            start=position,
            end=position,
            reduce=Reduce.MEAN,
            signal=self.signal,
            against=self.against,
            unsigned=self.unsigned,
            doubt=self.doubt[position],
            shaped=False,
        )


_TURNED: Final = (
    "How far the line of the {} has turned about the vertical since address, told from how narrow "
    "it looks; coarse below 30 degrees."
)
_BENT: Final = "Bend of the elbow as it looks in the picture; 0 is a straight arm."

_TRUNK_LEAN: Final = _Angle(
    name="trunk_lean",
    title="Trunk lean",
    description=(
        "Down the line the bend of the spine toward the ball; face-on its lean away from the "
        "target."
    ),
    needs=(*SHOULDERS, *HIPS),
    signal=trunk_lean,
    doubt={1.0: 1.05, 4.0: 1.3, 7.0: 1.15},
)
_CHEST_TURN: Final = _Angle(
    name="chest_turn",
    title="Chest turn",
    description=_TURNED.format("shoulders"),
    views=(View.FACE_ON,),
    needs=SHOULDERS,
    signal=chest_turn,
    doubt={4.0: 1.1, 7.0: 1.4, 9.0: 1.05},
    against=(1.0,),
)
_PELVIS_TURN: Final = _Angle(
    name="pelvis_turn",
    title="Pelvis turn",
    description=_TURNED.format("hips"),
    views=(View.FACE_ON,),
    needs=HIPS,
    signal=pelvis_turn,
    doubt={4.0: 1.0, 7.0: 1.0, 9.0: 1.0},
    against=(1.0,),
)
_HEAD_TURN: Final = _Angle(
    name="head_turn",
    title="Head turn",
    description="Turn of the face toward the target.",
    views=(View.FACE_ON,),
    needs=(Point.NOSE, Point.LEAD_EAR, Point.TRAIL_EAR),
    signal=head_turn,
    doubt={4.0: 1.0, 7.0: 1.0, 9.0: 1.0},
)
_LEAD_ELBOW_FLEXION: Final = _Angle(
    name="lead_elbow_flexion",
    title="Lead elbow flexion",
    description=_BENT,
    needs=LEAD_ARM,
    signal=lead_elbow_flexion,
    doubt={4.0: 1.15, 7.0: 1.2, 8.0: 1.1},
    unsigned=True,
)
_TRAIL_ELBOW_FLEXION: Final = _Angle(
    name="trail_elbow_flexion",
    title="Trail elbow flexion",
    description=_BENT,
    needs=TRAIL_ARM,
    signal=trail_elbow_flexion,
    doubt={4.0: 1.2, 7.0: 1.25, 8.0: 1.45},
    unsigned=True,
)
_LEAD_ARM_TO_SHAFT: Final = _Angle(
    name="lead_arm_to_shaft",
    title="Lead-arm-to-shaft angle",
    description="Between lead forearm and shaft as it looks in the picture; 180 is one line.",
    needs=(Point.LEAD_ELBOW, Point.LEAD_WRIST, Point.CLUBHEAD),
    signal=wrist_angle,
    doubt={4.0: 1.0, 5.0: 1.15, 6.0: 1.0, 7.0: 1.1, 8.0: 1.1},
)
_LEAD_ARM_ELEVATION: Final = _Angle(
    name="lead_arm_elevation",
    title="Elevation of the lead arm",
    description=(
        "How far the lead arm points above the horizontal; 0 is parallel to the ground. A camera "
        "that stands close overrates it down the line."
    ),
    needs=(Point.LEAD_SHOULDER, Point.LEAD_WRIST),
    signal=lead_arm_elevation,
    doubt={4.0: 1.6},
)
_SHAFT_DIRECTION: Final = _Angle(
    name="shaft_direction",
    title="Shaft direction",
    description="From grip to clubhead in the picture: 0 toward the target or the ball, 90 up.",
    needs=(Point.LEAD_WRIST, Point.CLUBHEAD),
    signal=shaft_direction,
    doubt={4.0: 1.1, 4.5: 1.3, 5.0: 1.45},
)


def _by_position(*angles: _Angle) -> Iterator[Measure]:
    """Angles that are told at the same positions, at each in turn."""
    return (angle.at(position) for position in angles[0].doubt for angle in angles)


GENERAL: Final[tuple[Measure, ...]] = (
    _BACKSWING_TIME,
    _DOWNSWING_TIME,
    *_by_position(_TRUNK_LEAN),
    *_by_position(_CHEST_TURN, _PELVIS_TURN),
    *_by_position(_HEAD_TURN),
    *_by_position(_LEAD_ELBOW_FLEXION, _TRAIL_ELBOW_FLEXION),
    *_by_position(_LEAD_ARM_TO_SHAFT),
    *_by_position(_LEAD_ARM_ELEVATION),
    *_by_position(_SHAFT_DIRECTION),
)
"""Measures that belong to no fault."""
