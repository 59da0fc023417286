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
from typing import Final

import numpy as np
from scipy.linalg import solveh_banded

from service.analysis.pose.geometry import frame_rate
from service.analysis.pose.points import ANATOMICAL
from service.analysis.pose.rows import row_median
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


def _within_short_gaps(observed: BoolArray, times: FloatArray) -> BoolArray:
    """Frames that are observed or lie in a gap short enough to fill."""
    if observed.all():
        return observed
    before = np.maximum.accumulate(np.where(observed, times, -np.inf), axis=1)
    after = np.minimum.accumulate(np.where(observed, times, np.inf)[:, ::-1], axis=1)[:, ::-1]
    return after - before <= LONGEST_GAP + 1e-6


def _cutoff(point: str) -> float:
    if point in ("shaft_mid", "clubhead"):
        return _CUTOFF_CLUB
    joint = point.removeprefix("left_").removeprefix("right_")
    return _CUTOFF_ARM if joint in ("elbow", "wrist", "hand", "grip", "grip_end") else _CUTOFF_BODY


_CUTOFFS: Final = np.array([_cutoff(point) for point in ANATOMICAL])
_STIFFNESS: Final[FloatArray] = (2 * np.pi * _CUTOFFS / _TWO_PASSES) ** -4
"""Weight of the squared second derivative, in s^4, that gives each point its cut-off."""


def smooth_all(
    paths: FloatArray, observed: BoolArray, times: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Smoothed paths, and their raw noise on one axis."""
    smoothed = np.full_like(paths, np.nan)
    noise = np.full(len(observed), np.nan)
    seen = observed.any(axis=1)
    if len(times) < 3 or not seen.any():
        return paths, noise
    raw, stiffness = paths[:, seen], _STIFFNESS[seen]
    kept = _within_short_gaps(observed[seen], times)
    bent = kept[:, :-2] & kept[:, 1:-1] & kept[:, 2:]
    path = _smooth(raw, bent, times, stiffness)
    gappy = ~kept.all()
    if gappy:
        path[:, ~kept] = np.nan
    smoothed[:, seen] = path

    taken = _taken_at(frame_rate(times))[seen]
    residual = np.concatenate(list((raw - path)[..., 1:-1]), axis=1)
    np.abs(residual, out=residual)
    if gappy:
        residual[np.concatenate([~bent, ~bent], axis=1)] = np.nan
    noise[seen] = row_median(residual) / (_NORMAL_MEDIAN * taken)
    return smoothed, noise


def _smooth(
    raw: FloatArray, bent: BoolArray, times: FloatArray, stiffness: FloatArray
) -> FloatArray:
    """Zero-lag low-pass of paths of shape (2, n_points, n_frames): a smoothing spline.

    The path minimises the squared distance from the observations plus ``stiffness``
    times its squared second derivative, both integrated over time. For evenly spaced
    frames its response is 1 / (1 + (f / f0)^4): that of a second-order Butterworth
    filter run forwards and backwards. Unlike the filter it takes uneven frames and
    missing ones as they are, bridges gaps with the smoothest path and starts and ends
    without transients.

    ``bent`` (n_points, n_frames - 2) says around which frames the second derivative
    counts; nothing else ties one frame to the next. All paths with gaps are solved as one
    banded system; those without share one with all others as stiff.
    """
    path, observed = np.empty_like(raw), ~np.isnan(raw[0])
    whole = observed.all(axis=1)
    gappy, kinds = np.flatnonzero(~whole), np.array(sorted(set(stiffness[whole].tolist())))
    everywhere = np.ones((kinds.size, len(times)), dtype=bool)
    bands, mass = _system(
        times,
        np.concatenate([stiffness[gappy], kinds]),
        np.concatenate([observed[gappy], everywhere]),
        np.concatenate([bent[gappy], everywhere[:, 2:]]),
    )
    if gappy.size:
        own = slice(gappy.size)
        pull = np.where(observed[gappy], mass[own] * raw[:, gappy], 0.0)
        path[:, gappy] = _solve(bands[:, own], pull)
    for k, kind in enumerate(kinds.tolist(), start=gappy.size):
        alike = np.flatnonzero(whole & (stiffness == kind))
        pull = (mass[k] * raw[:, alike]).reshape(-1, 1, len(times))
        path[:, alike] = _solve(bands[:, k], pull).reshape(2, -1, len(times))
    return path


def _system(
    times: FloatArray, stiffness: FloatArray, observed: BoolArray, bent: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """The spline's equations: diagonals, shape (3, n, n_frames), and weights of the frames.

    Parameters
    ----------
    stiffness : array of shape (n,)
    observed : array of shape (n, n_frames)
    bent : array of shape (n, n_frames - 2)
    """
    step = times[1:] - times[:-1]
    span = (step[:-1] + step[1:]) / 2
    before, after = 1 / (step[:-1] * span), 1 / (step[1:] * span)
    mass = observed * (np.concatenate([step[:1], step]) + np.concatenate([step, step[-1:]])) / 2
    weight = (stiffness[:, None] * span) * bent
    bands = np.zeros((3, *mass.shape))
    diagonal, first, second = bands
    diagonal += mass
    diagonal[:, :-2] += weight * before**2
    diagonal[:, 1:-1] += weight * (before + after) ** 2
    diagonal[:, 2:] += weight * after**2
    diagonal[diagonal == 0] = 1.0
    first[:, :-2] -= weight * (before * (before + after))
    first[:, 1:-1] -= weight * (after * (before + after))
    second[:, :-2] += weight * (before * after)
    return bands, mass


def _solve(bands: FloatArray, pull: FloatArray) -> FloatArray:
    """Solve a banded system, shape (3, ...), for some right sides, shape (n_sides, ...)."""
    sides = pull.reshape(len(pull), -1).T
    solved: FloatArray = solveh_banded(
        bands.reshape(3, -1), sides, overwrite_b=True, lower=True, check_finite=False
    )
    return solved.T.reshape(pull.shape)


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
