"""The part of the body about which a fault shows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray

_FEET: Final = (
    Point.LEAD_ANKLE,
    Point.TRAIL_ANKLE,
    Point.LEAD_HEEL,
    Point.TRAIL_HEEL,
    Point.LEAD_TOE,
    Point.TRAIL_TOE,
)
_KNEES: Final = (Point.LEAD_KNEE, Point.TRAIL_KNEE)
_TRAIL_SHANK: Final = (Point.TRAIL_KNEE, Point.TRAIL_ANKLE, Point.TRAIL_HEEL, Point.TRAIL_TOE)
_LEGS: Final = (Point.LEAD_HIP, Point.TRAIL_HIP, *_KNEES, *_FEET)
_LEADING_OUT: Final = (*_LEGS, Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)
"""Where the lines go that leave a picture of the legs at its edges."""
_SMALL_TOES: Final = (Point.LEAD_SMALL_TOE, Point.TRAIL_SMALL_TOE)
_UPPER: Final = tuple(p for p in Point if p not in (*_KNEES, *_FEET, *_SMALL_TOES))
_TO_KNEES: Final = (*_UPPER, *_KNEES)
_REGIONS: Final[Mapping[str, tuple[Point, ...]]] = {
    "arms_lift_at_top": _UPPER,
    "shaft_steep_at_top": _UPPER,
    "trail_heel_kick": _TRAIL_SHANK,
    "elbows_separate": _TO_KNEES,
    "lead_wrist_cup": _TO_KNEES,
    "trail_shoulder_drop": _TO_KNEES,
    "trail_knee_drive": _LEGS,
    "long_backswing": _UPPER,
    "chest_stall": _TO_KNEES,
    "hips_past_lead_foot": _LEGS,
    "wrists_open_early": _UPPER,
}


def region_of(fault: str) -> tuple[Point, ...]:
    """The points about which a fault shows, to which its picture is cut; all for some faults."""
    return _REGIONS.get(fault, tuple(Point))


def shows_club(region: tuple[Point, ...]) -> bool:
    """Whether the club belongs to a region; otherwise its picture would cut it."""
    return Point.CLUBHEAD in region


def near_region(poses: FloatArray, region: tuple[Point, ...]) -> FloatArray:
    """Poses of shape (..., n_points, 2) without what a cut to the region would leave stumps of."""
    if shows_club(region):
        return poses
    bare = poses.copy()
    bare[..., [p for p in Point if p not in (*region, *_LEADING_OUT)], :] = np.nan
    return bare
