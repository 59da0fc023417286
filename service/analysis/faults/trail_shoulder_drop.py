"""Trail shoulder dropping in the downswing."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.events.normalized import NormalizedSwing
from service.analysis.faults.definition import (
    COMMON_PRACTICE,
    Criterion,
    FaultDefinition,
)
from service.analysis.measures.body_lines import SHOULDERS
from service.analysis.measures.definition import Measure, Reduce, placewise
from service.analysis.pose import geometry
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View


@placewise
def _shoulder_tilt(swing: NormalizedSwing) -> FloatArray:
    """Tilt of the shoulder line in degrees, positive with the trail shoulder lower.

    From the difference in height over the full width of the shoulders, so that a turn of
    the chest, which narrows the line, does not pass for a tilt. The shoulders are at least as wide
    as they are seen at that moment, whatever was seen of them at address.
    """
    lead, trail = swing.point(Point.LEAD_SHOULDER), swing.point(Point.TRAIL_SHOULDER)
    width = geometry.distance(*(swing.point_at(p, 1.0) for p in SHOULDERS))
    sine = (lead - trail)[..., 1] / np.maximum(width[:, None], geometry.distance(lead, trail))
    return np.asarray(np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))))


SHOULDER_TILT: Final = Measure(
    name="shoulder_tilt",
    title="Shoulder tilt coming down",
    unit="degrees",
    description="Tilt of the line of the shoulders against the ground, trail shoulder low.",
    views=(View.FACE_ON,),
    needs=SHOULDERS,
    start=6.0,
    end=7.0,
    reduce=Reduce.MAX,
    signal=_shoulder_tilt,
    against=(1.0,),
    doubt=1.2,
)

DEFINITION: Final = FaultDefinition(
    name="trail_shoulder_drop",
    title="Trail shoulder dropping in the downswing",
    description=(
        "Between P6 and impact (P7) the trail shoulder sinks far under the lead shoulder: the "
        "trunk tilts to the side instead of turning through."
    ),
    criteria={
        View.FACE_ON: (
            Criterion(
                SHOULDER_TILT,
                above=35.0,
                grey=4.0,
                moderate=41.0,
                marked=47.0,
                reference=COMMON_PRACTICE,
            ),
        ),
    },
    causes=(
        "A steep club is rescued by leaning back under it.",
        "The pelvis slides toward the target and the trunk stays behind.",
    ),
    checkpoint=(
        "Rehearse slowly to P6 and stop: trail shoulder still behind you and no lower than the "
        "turn itself brings it."
    ),
    brings=("handle_rise", "elbows_separate"),
    min_frames=0.75,
    kept="Coming down, the trail shoulder does not sink far under the lead shoulder.",
)
