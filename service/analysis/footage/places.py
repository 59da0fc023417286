"""Where legs are at the start of swings, and how far they have gone since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.pose.rows import row_median
from service.analysis.types import FloatArray

_FRAMES: Final[int] = 5
"""Frames whose median tells a place."""
_UP_TO: Final = np.arange(1 - _FRAMES, 1)
_JOINTS: Final = [
    Point.LEAD_HIP,
    Point.TRAIL_HIP,
    Point.LEAD_KNEE,
    Point.TRAIL_KNEE,
    Point.LEAD_ANKLE,
    Point.TRAIL_ANKLE,
]
UPPER, LOWER = slice(0, 4), slice(2, 6)
"""Of these the ends of thighs and shanks."""
_ANKLES: Final = slice(4, 6)
_FROM: Final = [_JOINTS.index(point) for point in (Point.LEAD_HIP, Point.LEAD_ANKLE, *_JOINTS[:4])]
_TO: Final = [_JOINTS.index(point) for point in (Point.TRAIL_HIP, Point.TRAIL_ANKLE, *_JOINTS[2:])]
"""From which joints to which it is told how far they are apart, in the order of :class:`Stance`."""
_AFTER: Final[int] = 2
"""Frames after impact that are looked at too, as where legs are is told by the middle of five."""

Way = tuple[float, float]
"""Body heights across the picture and up it; NaN if not seen."""


class Instant(IntEnum):
    """When it is told where legs are."""

    FIRST = 0
    LEVEL = 1
    """P3, where the lead arm is level on the way up."""
    TOP = 2
    IMPACT = 3
    AFTER_IMPACT = 4
    LAST = 5


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


@dataclass(frozen=True)
class Legs:
    """Hips, knees and ankles of some swings, side by side.

    Attributes
    ----------
    frames : array of shape (n_swings, n_moments, 5, 6, 2)
        The frames up to each :class:`Instant`, NaN beyond either end of a swing.
    """

    frames: FloatArray

    @classmethod
    def of(cls, swings: Sequence[FloatArray], at: Sequence[tuple[int, int, int]]) -> Legs:
        """Of swings by their points, each of shape (n_frames, n_points, 2), and their frames of P3,
        P4 and P7."""
        moments = np.array(
            [
                (_FRAMES - 1, level, top, impact, impact + _AFTER, len(swing) - 1)
                for swing, (level, top, impact) in zip(swings, at, strict=True)
            ]
        )
        frames = moments[..., None] + _UP_TO
        held = np.minimum(np.maximum(frames, 0), moments[:, -1, None, None])
        told = np.array([swing.take(at, axis=0) for swing, at in zip(swings, held, strict=True)])
        legs = told.take(_JOINTS, axis=3)
        legs[held != frames] = np.nan
        return cls(legs)

    def stances(self) -> list[Stance]:
        """How each player stands."""
        first = self.frames[:, Instant.FIRST]
        apart = first.take(_FROM, axis=2) - first.take(_TO, axis=2)
        return [_stance(told) for told in _median(apart).tolist()]

    def gone(self, moment: Instant) -> FloatArray:
        """How far lead and trail ankle have gone since the first frames, shape (n_swings, 2, 2);
        NaN if not seen."""
        return np.asarray(self._ankles[:, moment] - self._ankles[:, Instant.FIRST])

    @cached_property
    def _ankles(self) -> FloatArray:
        """Where the ankles are, shape (n_swings, n_moments, 2, 2)."""
        ankles = self.frames[..., _ANKLES, :]
        return _median(ankles.reshape(-1, *ankles.shape[2:])).reshape(len(ankles), -1, 2, 2)


def _stance(apart: list[Way]) -> Stance:
    hips, ankles, *legs = apart
    lead_thigh, trail_thigh, lead_shank, trail_shank = (up for _, up in legs)
    return Stance(
        (hips[0], hips[1]),
        (ankles[0], ankles[1]),
        0.5 * (lead_thigh + trail_thigh),
        0.5 * (lead_shank + trail_shank),
    )


def _median(places: FloatArray) -> FloatArray:
    """Median over the frames of places of shape (n, 5, n_points, 2), shape (n, n_points, 2)."""
    rows = places.transpose(0, 2, 3, 1)
    return row_median(rows.reshape(-1, rows.shape[-1])).reshape(rows.shape[:-1])
