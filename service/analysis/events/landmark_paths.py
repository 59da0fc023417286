"""Paths of the body's landmarks that finding a swing needs: hands, hips, shoulders.

All in body heights with y up. Works on anatomical and canonical order alike, since it
treats both sides the same.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray

_BRIDGE: Final[float] = 0.15
"""Seconds over which the hands' path is bridged when neither wrist is seen."""


@dataclass(frozen=True)
class Tracks:
    """Paths over the frames of a clip.

    Attributes
    ----------
    times : array of shape (n_frames,)
    hands, hips, shoulders : arrays of shape (n_frames, 2)
        Middle of the wrists, hips and shoulders. ``hands`` is bridged over short gaps.
    hands_apart : array of shape (n_frames,)
        Distance between the wrists; NaN where one is missing.
    speed : array of shape (n_frames,)
        Speed of the hands against the hips, body heights a second.
    """

    times: FloatArray
    hands: FloatArray
    hips: FloatArray
    shoulders: FloatArray
    hands_apart: FloatArray
    speed: FloatArray

    @property
    def height(self) -> FloatArray:
        """Height of the hands above the hips, shape (n_frames,)."""
        return self.hands[:, 1] - self.hips[:, 1]

    def mirrored(self) -> Tracks:
        """The same with x the other way."""
        flip = np.array([-1.0, 1.0])
        return replace(
            self, hands=self.hands * flip, hips=self.hips * flip, shoulders=self.shoulders * flip
        )


def follow(points: FloatArray, times: FloatArray) -> Tracks:
    """Take the paths from poses.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
    times : array of shape (n_frames,)
    """
    wrists = points[:, [Point.LEAD_WRIST, Point.TRAIL_WRIST]]
    hips = _middle(points[:, [Point.LEAD_HIP, Point.TRAIL_HIP]])
    hips = np.where(np.isnan(hips), points[:, Point.MID_HIP], hips)
    shoulders = _middle(points[:, [Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER]])
    shoulders = np.where(np.isnan(shoulders), points[:, Point.NECK], shoulders)
    hands = bridge(_middle(wrists), times, _BRIDGE)
    apart = np.hypot(*(wrists[:, 0] - wrists[:, 1]).T)
    return Tracks(times, hands, hips, shoulders, apart, _speed(hands - hips, times))


def bridge(path: FloatArray, times: FloatArray, longest: float) -> FloatArray:
    """Fill gaps of a path by straight lines where they last no more than ``longest`` seconds.

    Parameters
    ----------
    path : array of shape (n_frames, 2)
    times : array of shape (n_frames,)

    Returns
    -------
    array of shape (n_frames, 2); longer gaps, and frames before the first or after the
    last sample, stay NaN.
    """
    seen = np.flatnonzero(~np.isnan(path).any(axis=1))
    if seen.size < 2:
        return path.copy()
    filled = np.column_stack([np.interp(times, times[seen], path[seen, k]) for k in (0, 1)])
    after = np.searchsorted(seen, np.arange(len(times)))
    before = np.clip(np.searchsorted(seen, np.arange(len(times)), side="right") - 1, 0, None)
    after = np.clip(after, None, seen.size - 1)
    too_long = times[seen[after]] - times[seen[before]] > longest
    outside = (np.arange(len(times)) < seen[0]) | (np.arange(len(times)) > seen[-1])
    filled[too_long | outside] = np.nan
    filled[seen] = path[seen]
    return filled


def _middle(pair: FloatArray) -> FloatArray:
    """Middle of two points; where one is missing, the other with the last known half-gap."""
    first, second = pair[:, 0], pair[:, 1]
    half = 0.5 * (second - first)
    known = np.flatnonzero(~np.isnan(half).any(axis=1))
    if known.size:
        frames = np.arange(len(half))
        half = np.column_stack([np.interp(frames, known, half[known, k]) for k in (0, 1)])
    else:
        half = np.zeros_like(half)
    middle = first + half
    return np.where(np.isnan(middle), second - half, middle)


def _speed(path: FloatArray, times: FloatArray) -> FloatArray:
    velocity = np.gradient(path, times, axis=0)
    return np.asarray(np.hypot(velocity[:, 0], velocity[:, 1]))
