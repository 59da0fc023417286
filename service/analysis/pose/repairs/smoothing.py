"""Paths of points smoothed without lag, short gaps filled, and what noise that took away.

References
----------
D. A. Winter, *Biomechanics and Motor Control of Human Movement* (the 0.802 that relates the
cut-off of one pass of a second-order Butterworth filter to that of two). From memory.

H. J. Woltring, "A Fortran package for generalized, cross-validatory spline smoothing and
differentiation", *Advances in Engineering Software* 8, 1986 (a smoothing spline acts as a
Butterworth filter run both ways). From memory.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpbsv

from service.analysis.pose.points import ANATOMICAL, joint_of
from service.analysis.pose.rows import row_median
from service.analysis.pose.timeline import Timeline
from service.analysis.types import BoolArray, FloatArray

LONGEST_GAP: Final = 0.1
"""Seconds between the observations on either side of a gap that is still filled."""

_CUTOFF_BODY: Final = 8.0
_CUTOFF_ARM: Final = 12.0
_CUTOFF_CLUB: Final = 16.0
"""Cut-offs in hertz at which 3 dB are lost. On a modelled full-speed swing with 0.003 to
0.006 body heights of noise the error is least at 6 to 10, 8 to 12 and 10 to 16 Hz for 30 to
240 frames a second; the upper part, because the caller learns the noise but not the blunting."""
_TWO_PASSES: Final = 0.802
"""(sqrt(2) - 1) ** (1/4): two passes lose 3 dB at this share of one pass's cut-off."""
_NORMAL_MEDIAN: Final = 0.6745
"""Median of the absolute value of a standard normal variable."""


def _cutoff(point: str) -> float:
    if point in ("shaft_mid", "clubhead"):
        return _CUTOFF_CLUB
    of_arm = joint_of(point) in ("elbow", "wrist", "hand", "grip", "grip_end")
    return _CUTOFF_ARM if of_arm else _CUTOFF_BODY


_CUTOFFS: Final = np.array([_cutoff(point) for point in ANATOMICAL])
_STIFFNESS: Final[FloatArray] = (2 * np.pi * _CUTOFFS / _TWO_PASSES) ** -4
"""Weight of the squared second derivative, in s^4, that gives each point its cut-off."""


class Equations(NamedTuple):
    """The spline's equations, see :func:`_system`; they hang on times and gaps alone."""

    unit: FloatArray
    mass: FloatArray


def gapless(line: Timeline) -> Equations:
    """The equations of paths that are seen in every frame of their clip."""
    return _system(line, np.True_, line.within(2))


def smooth_all(
    paths: FloatArray,
    observed: BoolArray,
    line: Timeline,
    points: NDArray[np.intp],
    equations: Equations,
) -> tuple[FloatArray, FloatArray]:
    """Smoothed paths, and their raw noise on one axis.

    Parameters
    ----------
    paths : array of shape (2, n_points, n_frames)
        Of clips end to end; NaN where missing.
    observed : array of shape (n_points, n_frames)
        Whether it is not.
    points : array of shape (n_points,)
        Which points they are.
    equations : those of :func:`gapless`

    Returns
    -------
    array of shape (2, n_points, n_frames), NaN but for what was observed or lies in a short gap,
    and array of shape (n_clips, n_points)
    """
    whole: BoolArray = np.logical_and.reduceat(observed, line.first, axis=1)
    smoothed = _smooth_whole(paths, whole, line, _STIFFNESS[points], equations)
    if whole.all():
        return smoothed, _noise(paths - smoothed, line, points)
    np.copyto(smoothed, np.nan, where=~whole[:, line.clip])
    gappy = (np.logical_or.reduceat(observed, line.first, axis=1) & ~whole)[:, line.clip]
    residual = paths - smoothed
    if gappy.any():
        point, frame, apart = line.picked(gappy)
        raw, stiffness = paths[:, point, frame], _STIFFNESS[points[point]]
        path, bent = _smooth_gappy(raw, apart, stiffness)
        smoothed[:, point, frame] = path
        residual[:, point, frame] = np.where(bent, raw - path, np.nan)
    return smoothed, _noise(residual, line, points)


def smooth_unsure(
    paths: FloatArray,
    smoothed: FloatArray,
    line: Timeline,
    points: NDArray[np.intp],
    equations: Equations,
    weight: FloatArray,
) -> FloatArray:
    """Paths smoothed anew where some frames tell less than others.

    Where little is made of a frame the path follows those about it, and where little is made of
    some on end it is smoother.

    Parameters
    ----------
    paths, smoothed : arrays of shape (2, n_points, n_frames)
        As they came and as :func:`smooth_all` left them.
    equations : those of :func:`gapless`
    weight : array of shape (n_points, n_frames)
        How much is made of each frame, 1 for all there is.

    Returns
    -------
    array of the shape of ``smoothed``: itself where all frames tell as much
    """
    seen = ~np.isnan(smoothed[0])
    unsure: BoolArray = np.logical_or.reduceat(seen & (weight < 1.0), line.first, axis=1)
    if not unsure.any():
        return smoothed
    anew, stiffness = smoothed.copy(), _STIFFNESS[points]
    whole: BoolArray = np.logical_and.reduceat(~np.isnan(paths[0]), line.first, axis=1)
    for k, own in enumerate(unsure & whole):
        if own.any():
            path = _smooth_alike(paths[:, k], whole[k], line, stiffness[k], equations, weight[k])
            np.copyto(anew[:, k], path, where=own[line.clip])
    gappy = (unsure & ~whole)[:, line.clip]
    if gappy.any():
        point, frame, apart = line.picked(gappy)
        anew[:, point, frame], _ = _smooth_gappy(
            paths[:, point, frame], apart, stiffness[point], weight[point, frame]
        )
    return anew


def _smooth_gappy(
    raw: FloatArray, line: Timeline, stiffness: FloatArray, weight: FloatArray | float = 1.0
) -> tuple[FloatArray, BoolArray]:
    """Smooth paths with gaps, each a clip of the line, all as one system.

    Parameters
    ----------
    raw : array of shape (2, n_frames)
    stiffness : array of shape (n_frames,)
    weight : of all frames, or an array of shape (n_frames,)

    Returns
    -------
    the paths, NaN in longer gaps, and around which frames they were bent, shape (n_frames,)
    """
    observed = ~np.isnan(raw[0])
    kept = _within_short_gaps(observed, line)
    bent = kept[:-2] & kept[1:-1] & kept[2:] & line.within(2)
    unit, mass = _system(line, observed, bent)
    path = _smooth(np.where(observed, raw, 0.0), unit, mass * weight, stiffness)
    return np.where(kept, path, np.nan), np.concatenate([[False], bent, [False]])


def _smooth_whole(
    paths: FloatArray,
    whole: BoolArray,
    line: Timeline,
    stiffness: FloatArray,
    equations: Equations,
) -> FloatArray:
    """Smooth the points that have no gap in a clip; what comes of others is of no use.

    All points as stiff share one system.

    Parameters
    ----------
    whole : array of shape (n_points, n_clips)
    stiffness : array of shape (n_points,)
    """
    smoothed, some = np.empty_like(paths), whole.any(axis=1)
    for kind in sorted(set(stiffness[some].tolist())):
        alike = np.flatnonzero((stiffness == kind) & some)
        smoothed[:, alike] = _smooth_alike(paths[:, alike], whole[alike], line, kind, equations)
    return smoothed


def _smooth_alike(
    paths: FloatArray,
    whole: BoolArray,
    line: Timeline,
    stiffness: float,
    equations: Equations,
    weight: FloatArray | float = 1.0,
) -> FloatArray:
    """The same of points that are as stiff, by one system.

    Parameters
    ----------
    paths : array of shape (2, ..., n_frames)
    whole : array of shape (..., n_clips)
    weight : of all frames, or an array of shape (n_frames,)
    """
    raw = paths if whole.all() else np.where(whole[..., line.clip], paths, 0.0)
    return _smooth(raw, equations.unit, equations.mass * weight, stiffness)


def _within_short_gaps(observed: BoolArray, line: Timeline) -> BoolArray:
    """Frames that are observed or lie in a gap short enough to fill, shape (n_frames,)."""
    frames, last = np.arange(len(observed)), len(observed) - 1
    before = np.maximum.accumulate(np.where(observed, frames, 0))
    after = np.minimum.accumulate(np.where(observed, frames, last)[::-1])[::-1]
    both = observed[before] & observed[after] & (line.clip[before] == line.clip[after])
    return np.asarray(both & (line.times[after] - line.times[before] <= LONGEST_GAP + 1e-6))


def _noise(residual: FloatArray, line: Timeline, points: NDArray[np.intp]) -> FloatArray:
    """Raw noise of each clip by what the filter took away, shape (n_clips, n_points).

    ``residual``, shape (2, n_points, n_frames), is changed in place.
    """
    np.abs(residual, out=residual)
    noise = np.full((len(line.spans), len(residual[0])), np.nan)
    for k, span in enumerate(line.spans):
        if span.stop - span.start < 3:
            continue
        inner = slice(span.start + 1, span.stop - 1)
        both = np.concatenate([residual[0, :, inner], residual[1, :, inner]], axis=1)
        taken = _taken_at(line.rates[k])[points]
        noise[k] = row_median(both) / (_NORMAL_MEDIAN * taken)
    return noise


def _smooth(
    raw: FloatArray, unit: FloatArray, mass: FloatArray, stiffness: float | FloatArray
) -> FloatArray:
    """Zero-lag low-pass of paths of shape (..., n_frames): a smoothing spline.

    The path minimises the squared distance from the observations plus ``stiffness``
    times its squared second derivative, both integrated over time. For evenly spaced
    frames its response is 1 / (1 + (f / f0)^4): that of a second-order Butterworth
    filter run forwards and backwards. Unlike the filter it takes uneven frames and
    missing ones as they are, bridges gaps with the smoothest path and starts and ends
    without transients.

    Parameters
    ----------
    unit, mass : see :func:`_system`
    stiffness : of all frames, or an array of shape (n_frames,) that is constant within a clip
    """
    bands = unit * stiffness
    bands[0] += mass
    bands[0, bands[0] == 0.0] = 1.0
    pull = (mass * raw).reshape(-1, raw.shape[-1])
    _, solved, fault = dpbsv(bands, pull.T, lower=1, overwrite_ab=1, overwrite_b=1)
    if fault:
        raise np.linalg.LinAlgError("the spline's equations are not positive definite")
    return np.asarray(solved.T.reshape(raw.shape))


def _system(line: Timeline, observed: BoolArray | np.bool_, bent: BoolArray) -> Equations:
    """The spline's equations: diagonals of unit stiffness, shape (3, n_frames), and the weight
    of each frame, shape (n_frames,).

    Parameters
    ----------
    observed : array of shape (n_frames,), or true for all
    bent : array of shape (n_frames - 2,)
        Around which frames the second derivative counts; nothing else ties one frame to the next.
    """
    step = np.ones(len(line.times))
    np.subtract(line.times[1:], line.times[:-1], out=step[:-1], where=line.within(1))
    earlier = np.concatenate([step[:1], step[:-1]])
    earlier[line.first] = step[line.first]
    later, ends = step.copy(), [span.stop - 1 for span in line.spans]
    later[ends] = earlier[ends]
    mass = observed * (earlier + later) / 2

    span = (step[:-2] + step[1:-1]) / 2
    before, after = 1 / (step[:-2] * span), 1 / (step[1:-1] * span)
    weight = span * bent
    unit = np.zeros((3, len(step)))
    diagonal, first, second = unit
    diagonal[:-2] += weight * before**2
    diagonal[1:-1] += weight * (before + after) ** 2
    diagonal[2:] += weight * after**2
    first[:-2] -= weight * (before * (before + after))
    first[1:-1] -= weight * (after * (before + after))
    second[:-2] += weight * (before * after)
    return Equations(unit, mass)


@lru_cache(maxsize=64)
def _taken_at(frame_rate: float) -> FloatArray:
    """What is taken of all points, shape (n_points,)."""
    return _taken(_STIFFNESS * frame_rate**4)


def _taken(stiffness: FloatArray) -> FloatArray:
    """Share of white noise that the filter takes away, as a deviation.

    ``stiffness`` is in frames^4. Integrates the filter's response over all frequencies.
    """
    angle = (np.arange(256) + 0.5) / 256 * np.pi
    bend = stiffness[:, None] * (2 - 2 * np.cos(angle)) ** 2
    return np.asarray(np.sqrt(np.mean((bend / (1 + bend)) ** 2, axis=1)))
