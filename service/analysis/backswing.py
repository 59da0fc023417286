"""How far a backswing went, on a scale that short swings and full ones share.

P4 is the top of the swing at hand, wherever that is, so that "stop at P3.5" needs a scale of its
own: the elevation of the lead arm, shoulder to wrist, above the horizontal, which is the same from
either view. P3 is the arm parallel to the ground by definition, P4 the usual top of a full swing,
and P3.5 lies halfway between the two; what goes on past the usual top is past 4.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from service.analysis.events.normalized import grid_index
from service.analysis.measured import MeasuredSwing
from service.analysis.measures.body_lines import lead_arm_elevation
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, Reason, StoppedAt, View

ELEVATIONS: Final[FloatArray] = np.array([-68.0, -45.0, 0.0, 35.0])
"""Degrees of the lead arm at P1 to P4 of a usual full swing: P3 by definition, the others common
practice, near what real clips show. There face-on medians are 70 degrees below the horizontal at P1
and 46 below at P2; of the tops, many of them of shorter swings, a quarter reach 31 to 42 degrees by
source and view."""
_TOP: Final[float] = 4.0
_VAGUEST: Final[float] = 0.4
"""Of a position; what is less sure could be a half swing as well as a full one."""
_CAMERA: Final[dict[View, float]] = {View.FACE_ON: 0.03, View.DOWN_THE_LINE: 0.09}
"""Of a position: what cameras that stand near, high or low add to the error, beyond the spread of
the samples; measured on 480 simulated clips of whole and short swings."""
_ARM: Final = (Point.LEAD_SHOULDER, Point.LEAD_WRIST)


def stopped_at(swing: MeasuredSwing, asked: float) -> StoppedAt:
    """Where the backswing ended, beside where it was asked to.

    The uncertainty is the spread over the samples of the swing, which carry the errors of the
    keypoints, of the moment and of what is known of the camera.
    """
    top = swing.positions[3]
    if top.time is None:
        return StoppedAt(asked, reason=top.reason or _NO_TOP)
    place = grid_index(_TOP)
    if swing.normalized.missing[0, list(_ARM), place].any():
        return StoppedAt(asked, reason=_ARM_NOT_SEEN)
    at = on_the_scale(lead_arm_elevation(swing.normalized)[:, place])
    camera = _CAMERA[swing.view.value]
    value, uncertainty = float(at[0]), float(np.hypot(np.std(at[1:]), camera))
    if uncertainty > _VAGUEST:
        return StoppedAt(asked, reason=_too_vague(value, uncertainty))
    moment = swing.moment(_TOP)
    return StoppedAt(asked, value, uncertainty, moment.frame, moment.time)


def on_the_scale(elevation: FloatArray) -> FloatArray:
    """Elevations of the lead arm in degrees, of any shape, as position coordinates of the same; 1
    is the least.

    >>> on_the_scale(np.array([-90.0, -22.5, 0.0, 17.5, 42.0])).tolist()
    [1.0, 2.5, 3.0, 3.5, 4.2]
    """
    known = np.interp(elevation, ELEVATIONS, np.arange(1.0, 5.0))
    return np.asarray(known + np.maximum(elevation - ELEVATIONS[-1], 0.0) / ELEVATIONS[-1])


def _too_vague(value: float, uncertainty: float) -> Reason:
    return Reason(
        "too_uncertain",
        f"The end of the backswing, P{value:.1f} ± {uncertainty:.1f}, is too uncertain to tell.",
    )


_NO_TOP: Final = Reason("position_not_found", "The top of the swing (P4) was not found.")
_ARM_NOT_SEEN: Final = Reason(
    "points_not_seen", "The lead shoulder or the lead wrist is not seen where the backswing ends."
)
