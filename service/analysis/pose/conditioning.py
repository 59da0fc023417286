"""Raw estimator keypoints to clean ones: swapped sides, outliers, gaps, smoothing.

Everything is told in seconds and body heights, so that neither the frame rate nor the
size of the player in the picture decides what happens. Every step commutes with
shifting, turning, mirroring and scaling the picture.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.pose.geometry import frame_rate
from service.analysis.pose.points import ANATOMICAL
from service.analysis.pose.side_swaps import repair_swaps
from service.analysis.pose.smoothing import smooth_all
from service.analysis.pose.spikes import find_spikes
from service.analysis.types import BoolArray, FloatArray

CONFIDENCE_FLOOR: Final[float] = 0.2
"""Below it estimators guess (common practice)."""


@dataclass(frozen=True)
class Conditioned:
    """Clean keypoints, and how noisy they were.

    Attributes
    ----------
    points : array of shape (n_frames, n_points, 2)
        Smoothed, in the unit and order of the input; NaN where missing. Gaps of up to
        0.1 s between two observations are filled, nothing is extrapolated.
    observed : array of shape (n_frames, n_points)
        Whether the point was measured in this frame: confident enough, no outlier, and
        not merely filled.
    noise : array of shape (n_points,)
        One standard deviation of the raw error on one axis, in the input's unit, from
        what the filter took away. Right for white noise; the slow part of an
        estimator's error can't be told from motion and is not in it. NaN for a point
        never seen in three frames running.
    swaps_repaired : int
        Stretches of frames in which a limb's sides were exchanged back.
    outliers_removed : int
        Single measurements dropped as spikes.
    frame_rate : float
        Median frame rate in hertz of the player's time; NaN for fewer than two frames.
    """

    points: FloatArray
    observed: BoolArray
    noise: FloatArray
    swaps_repaired: int
    outliers_removed: int
    frame_rate: float


def condition(
    points: FloatArray, confidence: FloatArray, times: FloatArray, *, scale: float
) -> Conditioned:
    """Repair swapped sides, drop outliers, fill short gaps and smooth without lag.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        In the order of :data:`service.analysis.pose.points.ANATOMICAL`, any square unit;
        NaN where missing.
    confidence : array of shape (n_frames, n_points)
        From 0 to 1; points below 0.2 count as missing.
    times : array of shape (n_frames,)
        Strictly increasing seconds of the player's time; the spacing may vary.
    scale : float
        The player's approximate height in the unit of ``points``, see
        :func:`service.analysis.pose.stature.body_height`.

    Raises
    ------
    ValueError
        If the shapes disagree, the times don't increase or the scale isn't positive.
    """
    _check(points, confidence, times, scale)
    paths = _paths(points, confidence)
    paths, swaps = repair_swaps(paths, times, scale)
    spikes = find_spikes(paths, times, scale)
    paths[:, spikes] = np.nan
    observed = ~np.isnan(paths[0])
    smoothed, noise = smooth_all(paths, observed, times)
    return Conditioned(
        points=np.ascontiguousarray(smoothed.T),
        observed=observed.T,
        noise=noise,
        swaps_repaired=swaps,
        outliers_removed=int(spikes.sum()),
        frame_rate=frame_rate(times),
    )


def _paths(points: FloatArray, confidence: FloatArray) -> FloatArray:
    """Copy confident points into paths of shape (2, n_points, n_frames).

    With time innermost every step below runs along memory.
    """
    paths = np.array(points.T, order="C")
    told = (confidence.T >= CONFIDENCE_FLOOR) & np.isfinite(paths[0]) & np.isfinite(paths[1])
    np.copyto(paths, np.nan, where=~told)
    return paths


def _check(points: FloatArray, confidence: FloatArray, times: FloatArray, scale: float) -> None:
    expected = (len(times), len(ANATOMICAL), 2)
    if points.shape != expected:
        raise ValueError(f"points must have shape {expected}, not {points.shape}")
    if confidence.shape != expected[:2]:
        raise ValueError(f"confidence must have shape {expected[:2]}, not {confidence.shape}")
    if not (times[1:] > times[:-1]).all():
        raise ValueError("times must be strictly increasing")
    if not (np.isfinite(scale) and scale > 0):
        raise ValueError(f"scale must be a positive length, not {scale}")
