"""Raw estimator keypoints to clean ones: swapped sides, outliers, gaps, smoothing.

Everything is told in seconds and body heights, so that neither the frame rate nor the
size of the player in the picture decides what happens. Every step commutes with
shifting, turning, mirroring and scaling the picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from service.analysis.pose.points import ANATOMICAL
from service.analysis.pose.repairs.side_swaps import repair_swaps
from service.analysis.pose.repairs.smoothing import (
    Equations,
    gapless,
    smooth_all,
    smooth_unsure,
)
from service.analysis.pose.repairs.spikes import find_spikes
from service.analysis.pose.timeline import Timeline, batches
from service.analysis.pose.unsureness import SURE_FROM, unsureness
from service.analysis.types import BoolArray, FloatArray

Scalar = TypeVar("Scalar", bound=np.generic)

CONFIDENCE_FLOOR: Final[float] = 0.2
"""Below it estimators guess (common practice)."""
WRISTS: Final = [ANATOMICAL.index("left_wrist"), ANATOMICAL.index("right_wrist")]
_LASTS: Final = 3
"""Power of its :func:`unsureness` by which less is made of a wrist. 2 would do for errors of each
frame's own; larger ones last, too. Of 800 clips of makes left out with a real estimator's errors,
drawn in three lots, 0.9 % more positions are near enough with it than where all frames count alike
(1.5, 0.0 and 1.0 %) and 1.6 % more verdicts are decided, of which 0.88 % are wrong in place of
0.80. In the first lot 2 gained less and 4 little more; with 4 the hands of one of 30 real players
are exchanged. For other joints it makes no difference."""


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
    confidence : array of shape (n_frames, n_points)
        As it came, but where sides were exchanged back it went with its point.
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
    wrists : array of shape (n_frames, 2, 2), or None
        The left and the right one smoothed with less made of frames in which they are unsure;
        ``None`` where that is the same.
    """

    points: FloatArray
    observed: BoolArray
    confidence: FloatArray
    noise: FloatArray
    swaps_repaired: int
    outliers_removed: int
    frame_rate: float
    wrists: FloatArray | None = None


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
        If there are no frames, the shapes disagree, the times don't increase or the scale isn't
        positive.
    """
    return condition_all([(points, confidence, times, scale)])[0]


def condition_all(
    clips: Sequence[tuple[FloatArray, FloatArray, FloatArray, float]],
) -> list[Conditioned]:
    """What :func:`condition` makes of each of some clips, of as many frames as each has.

    Parameters
    ----------
    clips : of each its points, confidence, times and scale
    """
    for clip in clips:
        _check(*clip)
    some = batches([len(times) for _, _, times, _ in clips])
    return [each for own in some for each in _condition(clips[own])]


def _condition(
    clips: Sequence[tuple[FloatArray, FloatArray, FloatArray, float]],
) -> list[Conditioned]:
    """Condition some clips laid end to end."""
    line = Timeline.of([times for _, _, times, _ in clips])
    scales = np.array([scale for *_, scale in clips])
    paths = _paths([clip[0] for clip in clips], [clip[1] for clip in clips], line)
    confidence = np.concatenate([clip[1] for clip in clips])
    swaps = repair_swaps(paths, confidence.T, line, scales)
    shown = np.flatnonzero((~np.isnan(paths[0])).any(axis=1))
    paths = paths[:, shown]
    spikes = find_spikes(paths, line, scales)
    np.copyto(paths, np.nan, where=spikes)
    observed = ~np.isnan(paths[0])
    equations = gapless(line)
    smoothed, noise = smooth_all(paths, observed, line, shown, equations)
    steadied = _steadied(paths, smoothed, line, shown, equations, confidence)
    return [
        Conditioned(
            points=_points(smoothed[..., span], shown),
            observed=_of_all(observed[:, span].T, shown, np.False_),
            confidence=confidence[span],
            noise=_of_all(noise[k], shown, np.nan),
            swaps_repaired=swaps[k],
            outliers_removed=int(np.count_nonzero(spikes[:, span])),
            frame_rate=line.rates[k],
            wrists=steadied[k],
        )
        for k, span in enumerate(line.spans)
    ]


def _steadied(
    paths: FloatArray,
    smoothed: FloatArray,
    line: Timeline,
    shown: NDArray[np.intp],
    equations: Equations,
    confidence: FloatArray,
) -> list[FloatArray | None]:
    """Both wrists of each clip smoothed anew, shape (n_frames, 2 wrists, 2); ``None`` where they
    are in no frame unsure."""
    sure = confidence.take(WRISTS, axis=1)
    doubtful = np.logical_or.reduce((sure < SURE_FROM) & (sure >= CONFIDENCE_FLOOR), axis=1)
    unsure = [bool(doubtful[span].any()) for span in line.spans]
    if not any(unsure):
        return [None] * len(line.spans)
    at = [k for k, point in enumerate(shown.tolist()) if point in WRISTS]
    there = [WRISTS.index(shown[k]) for k in at]
    weight = unsureness(sure.T[there]) ** -_LASTS
    anew = np.full((2, len(WRISTS), paths.shape[2]), np.nan)
    anew[:, there] = smooth_unsure(
        paths[:, at], smoothed[:, at], line, shown[at], equations, weight
    )
    return [
        np.ascontiguousarray(anew[..., span].T) if some else None
        for span, some in zip(line.spans, unsure, strict=True)
    ]


def _paths(
    points: Sequence[FloatArray], confidence: Sequence[FloatArray], line: Timeline
) -> FloatArray:
    """Copy confident points into paths of shape (2, n_points, n_frames), clips end to end.

    With time innermost every step below runs along memory.
    """
    paths = np.empty((2, len(ANATOMICAL), len(line.times)))
    for span, own, told in zip(line.spans, points, confidence, strict=True):
        path = paths[..., span]
        path[...] = own.T
        sure = (told.T >= CONFIDENCE_FLOOR) & np.isfinite(path[0]) & np.isfinite(path[1])
        np.copyto(path, np.nan, where=~sure)
    return paths


def _points(paths: FloatArray, shown: NDArray[np.intp]) -> FloatArray:
    """Paths of shape (2, n_shown, n_frames) as points, shape (n_frames, n_points, 2), NaN where not
    shown. An axis at a time takes a fifth of what one call for both does."""
    points = np.full((paths.shape[2], len(ANATOMICAL), 2), np.nan)
    for axis, path in enumerate(paths):
        points[:, shown, axis] = path.T
    return points


def _of_all(
    told: NDArray[Scalar], shown: NDArray[np.intp], otherwise: np.generic | float
) -> NDArray[Scalar]:
    """What is told of the points shown, along the last axis, as one of all points."""
    every = np.full((*told.shape[:-1], len(ANATOMICAL)), otherwise, dtype=told.dtype)
    every[..., shown] = told
    return every


def _check(points: FloatArray, confidence: FloatArray, times: FloatArray, scale: float) -> None:
    if not len(times):
        raise ValueError("times must be those of one frame at least")
    expected = (len(times), len(ANATOMICAL), 2)
    if points.shape != expected:
        raise ValueError(f"points must have shape {expected}, not {points.shape}")
    if confidence.shape != expected[:2]:
        raise ValueError(f"confidence must have shape {expected[:2]}, not {confidence.shape}")
    if not (times[1:] > times[:-1]).all():
        raise ValueError("times must be strictly increasing")
    if not (np.isfinite(scale) and scale > 0):
        raise ValueError(f"scale must be a positive length, not {scale}")
