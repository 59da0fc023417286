"""What the searches for the single positions look at, and what they find."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from service.analysis.events.detection import Downswing
from service.analysis.events.landmark_paths import Tracks
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View

_SHAFT_LAST: Final[list[Point]] = [Point.CLUBHEAD, Point.SHAFT_MID]
_SHAFT_FIRST: Final[list[Point]] = [Point.GRIP_END, Point.GRIP, Point.LEAD_WRIST]
"""The lead wrist, which holds the grip, stands in where the grip itself is not given."""
_FULL_LENGTH: Final[float] = 90.0
"""Percentile of a shaft's lengths in the picture that is taken for its whole length; judgement."""
_SHORTEST: Final[float] = 0.01
"""Body heights; what is shorter is no shaft."""


@dataclass(frozen=True)
class Found:
    """A moment in seconds with one standard deviation.

    ``shown`` is false where the clip begins too late or stops too early to show it: then it helps
    to find the others and is not told. ``disputed`` is true where network and thresholds read two
    swings and place it apart: then it is not told either.
    """

    time: float
    uncertainty: float
    inferred: bool = False
    shown: bool = True
    disputed: bool = False


@dataclass(frozen=True)
class Scene:
    """What the searches for the single positions share.

    Attributes
    ----------
    points : array of shape (n_frames, n_points, 2)
        Canonical, body heights.
    noise : array of shape (n_points,)
        One standard deviation of the error of ``points`` on one axis.
    """

    points: FloatArray
    tracks: Tracks
    swing: Downswing
    view: View
    noise: FloatArray

    @property
    def frame(self) -> float:
        """Seconds between frames."""
        return self.tracks.frame

    @cached_property
    def clubhead(self) -> FloatArray | None:
        """Path of the clubhead, shape (n_frames, 2); ``None`` where it is never seen."""
        path = self.points[:, Point.CLUBHEAD]
        return None if np.isnan(path[:, 0]).all() else path

    @cached_property
    def shaft_height(self) -> FloatArray | None:
        """How much higher the tip of the shaft is than its butt, shape (n_frames,); ``None`` where
        that is never seen."""
        shaft = self._shaft
        return None if shaft is None else shaft[:, 1]

    @cached_property
    def shaft_elevation(self) -> FloatArray | None:
        """Angle of the shaft above level in radians, -pi/2 to pi/2, shape (n_frames,); its length
        is taken from the frames in which it lies most nearly across the line of sight."""
        shaft = self._shaft
        if shaft is None or np.isnan(shaft).all():
            return None
        length = np.nanpercentile(np.hypot(shaft[:, 0], shaft[:, 1]), _FULL_LENGTH)
        return np.asarray(np.arcsin(np.clip(shaft[:, 1] / max(length, _SHORTEST), -1.0, 1.0)))

    @cached_property
    def _shaft(self) -> FloatArray | None:
        """From the butt of the shaft to its tip, shape (n_frames, 2)."""
        if np.isnan(self.points[:, _SHAFT_LAST, 0]).all():
            return None
        ends = _shaft_ends(self.points)
        return np.asarray(ends[:, 1] - ends[:, 0])

    def window(self, first: float | None, last: float | None) -> slice:
        """Frames between two times, one frame of margin on either side."""
        times = self.tracks.times
        low = self.swing.start if first is None else int(times.searchsorted(first)) - 1
        high = self.swing.end if last is None else int(times.searchsorted(last))
        return slice(max(low, 0), min(high, len(times) - 1) + 1)


def lowest_frame(values: FloatArray) -> int:
    """Frame of the least of values of shape (n_frames,), at least one of which is no NaN."""
    return int(np.where(np.isnan(values), np.inf, values).argmin())


def _shaft_ends(points: FloatArray) -> FloatArray:
    """Butt and tip of the shaft, shape (n_frames, 2, 2); the best seen of each end."""
    ends = []
    for choices in (_SHAFT_FIRST, _SHAFT_LAST):
        end = points[:, choices[0]]
        for other in choices[1:]:
            end = np.where(np.isnan(end), points[:, other], end)
        ends.append(end)
    return np.stack(ends, axis=1)
