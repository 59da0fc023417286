"""Where points are at the start of a swing, and how far they have gone since."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from service.analysis.pose.points import Point
from service.analysis.pose.rows import row_median
from service.analysis.types import FloatArray

_FRAMES: Final[int] = 5
"""Frames whose median tells a place."""
_UPPER: Final = [
    Point.LEAD_HIP,
    Point.LEAD_ANKLE,
    Point.LEAD_HIP,
    Point.TRAIL_HIP,
    Point.LEAD_KNEE,
    Point.TRAIL_KNEE,
]
_LOWER: Final = [
    Point.TRAIL_HIP,
    Point.TRAIL_ANKLE,
    Point.LEAD_KNEE,
    Point.TRAIL_KNEE,
    Point.LEAD_ANKLE,
    Point.TRAIL_ANKLE,
]
"""From which points to which it is told how far they are apart, in the order of :class:`Stance`."""

Way = tuple[float, float]
"""Body heights across the picture and up it; NaN if not seen."""


@dataclass(frozen=True)
class Stance:
    """How the player stands in the first frames of the swing.

    Attributes
    ----------
    hips, ankles : from the trail one to the lead one
    thighs, shanks : float
        Height of the hips above the knees, of these above the ankles, both sides' mean.
    """

    hips: Way
    ankles: Way
    thighs: float
    shanks: float

    @classmethod
    def of(cls, points: FloatArray) -> Stance:
        """Of the points of a swing, shape (n_frames, n_points, 2)."""
        first = points[:_FRAMES]
        apart = first.take(_UPPER, axis=1) - first.take(_LOWER, axis=1)
        told = row_median(apart.reshape(len(apart), -1).T).reshape(-1, 2).tolist()
        hips, ankles, *legs = told
        lead_thigh, trail_thigh, lead_shank, trail_shank = (up for _, up in legs)
        return cls(
            (hips[0], hips[1]),
            (ankles[0], ankles[1]),
            0.5 * (lead_thigh + trail_thigh),
            0.5 * (lead_shank + trail_shank),
        )


def at_both_ends(points: FloatArray, last: int) -> tuple[FloatArray, FloatArray]:
    """The first frames, and those up to a later one."""
    return points[:_FRAMES], points[max(last - _FRAMES + 1, 0) : last + 1]


def on_the_way(points: FloatArray, which: list[Point], last: int) -> FloatArray:
    """How far points have gone by a frame since the first ones, shape (n_which, 2); NaN if not
    seen."""
    start, end = (
        row_median(part.take(which, axis=1).reshape(len(part), -1).T)
        for part in at_both_ends(points, last)
    )
    return (end - start).reshape(-1, 2)
