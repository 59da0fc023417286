"""Where the club is between the frames on which it was marked, and how sure that is.

The club turns about the hands, and the hands are known in every frame. So the clubhead goes by its
angle and its distance about the middle of the wrists, the grip by its offset from there; each is
interpolated over the player's time by monotone cubics, which keep the shape: between two marks
nothing goes beyond them (F. N. Fritsch & R. E. Carlson, "Monotone piecewise cubic interpolation",
SIAM Journal on Numerical Analysis 17, 1980, doi:10.1137/0717021). What would be too unsure is left
missing. The numbers are set on simulated swings of which every 2nd to 16th frame was marked, at 60
to 240 frames a second; `tests/film/test_club_path.py` holds them against other ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from service.analysis.types import BoolArray, FloatArray

Frames = NDArray[np.intp]

STRAY: Final[float] = 1.5
"""How far the path strays from the truth halfway between two marks, one standard deviation: share
of the way between them for each second between them."""
LONGEST_GAP: Final[float] = 0.15
"""Seconds between two marks over which the path is still believed."""
WIDEST_TURN: Final[float] = np.pi / 2
"""Radians between two marks from which it can't be told which way round the club went."""


@dataclass(frozen=True)
class Track:
    """One point of the club over the frames.

    Attributes
    ----------
    points : array of shape (n_frames, 2)
        Image coordinates in pixels, y down; NaN where missing.
    error : array of shape (n_frames,)
        One standard deviation on one axis in pixels; NaN where missing.
    """

    points: FloatArray
    error: FloatArray


def clubhead_track(
    frames: Frames, marks: FloatArray, hands: FloatArray, times: FloatArray, tap: float
) -> Track:
    """The clubhead about the hands.

    Parameters
    ----------
    frames : array of shape (n_marks,)
        Increasing frames on which it was marked, at least one.
    marks : array of shape (n_marks, 2)
        Where, in pixels.
    hands : array of shape (n_frames, 2)
        Middle of the wrists in pixels; NaN where they are not seen, and there the club is known on
        marked frames alone.
    times : array of shape (n_frames,)
        Seconds of the player's time.
    tap : float
        One standard deviation of a mark on one axis in pixels.

    Notes
    -----
    A club that points at the camera or away passes the hands in the picture, and then angle and
    distance tell less than x and y: what the two ways of interpolating differ by counts as error,
    the more the shorter the club looks.
    """
    arms = marks - hands[frames]
    radius = np.hypot(arms[:, 0], arms[:, 1])
    known = np.isfinite(radius)
    angle = np.full(len(radius), np.nan)
    angle[known] = np.unwrap(np.arctan2(arms[known, 1], arms[known, 0]))
    turn = np.abs(np.diff(angle))
    torn = _with_neighbours(turn > WIDEST_TURN)
    way = np.hypot(turn * (radius[:-1] + radius[1:]) / 2, np.diff(radius))
    way += _travelled(hands, frames)
    polar, error = _between(frames, np.column_stack([radius, angle]), way, torn, times, tap)
    about = polar[:, :1] * np.column_stack([np.cos(polar[:, 1]), np.sin(polar[:, 1])])
    straight, _ = _between(frames, arms, way, torn, times, tap)
    if known.any():
        short = 1.0 - _smaller_beside(frames, radius, len(times)) / np.nanmax(radius)
        error = np.hypot(error, short * np.hypot(*(about - straight).T))
    return _with_marks(frames, marks, Track(hands + about, error), tap)


def grip_track(
    frames: Frames, marks: FloatArray, hands: FloatArray, times: FloatArray, tap: float
) -> Track:
    """The grip by its offset from the hands; parameters as for :func:`clubhead_track`."""
    offset = marks - hands[frames]
    way = np.hypot(*np.diff(offset, axis=0).T) + _travelled(hands, frames)
    torn = np.zeros(len(way), dtype=bool)
    told, error = _between(frames, offset, way, torn, times, tap)
    return _with_marks(frames, marks, Track(hands + told, error), tap)


def _with_neighbours(torn: BoolArray) -> BoolArray:
    """Gaps that are torn and those beside them: there the club has just turned, or is about to."""
    spread = torn.copy()
    spread[1:] |= torn[:-1]
    spread[:-1] |= torn[1:]
    return spread


def _travelled(hands: FloatArray, frames: Frames) -> FloatArray:
    """Way of the hands from each mark to the next, there and back counted, shape (n_marks - 1,)."""
    steps = np.nan_to_num(np.hypot(*np.diff(hands, axis=0).T))
    along = np.concatenate([[0.0], np.cumsum(steps)])
    return np.asarray(np.diff(along[frames]))


def _smaller_beside(frames: Frames, radius: FloatArray, n_frames: int) -> FloatArray:
    """The smaller of the radii marked before and after each frame, shape (n_frames,)."""
    before = np.clip(np.searchsorted(frames, np.arange(n_frames), side="right") - 1, 0, None)
    after = np.minimum(before + 1, len(radius) - 1)
    return np.asarray(np.minimum(radius[before], radius[after]))


def _between(
    frames: Frames,
    values: FloatArray,
    way: FloatArray,
    torn: BoolArray,
    times: FloatArray,
    tap: float,
) -> tuple[FloatArray, FloatArray]:
    """Values of shape (n_frames, 2) and their error, NaN where no two marks are near enough."""
    told = np.full((len(times), 2), np.nan)
    error = np.full(len(times), np.nan)
    known = np.isfinite(values.sum(axis=1))
    broken = torn | (np.diff(times[frames]) > LONGEST_GAP) | ~known[:-1] | ~known[1:]
    for run in np.split(np.arange(len(frames)), np.flatnonzero(broken) + 1):
        if len(run) < 2:
            continue
        inside = slice(frames[run[0]], frames[run[-1]] + 1)
        marked = times[frames[run]]
        told[inside] = PchipInterpolator(marked, values[run])(times[inside])
        gap = np.clip(np.searchsorted(marked, times[inside], side="right") - 1, 0, len(run) - 2)
        length = marked[gap + 1] - marked[gap]
        share = (times[inside] - marked[gap]) / length
        stray = STRAY * length * way[run[:-1]][gap] * 4 * share * (1 - share)
        error[inside] = np.hypot(tap, stray)
    return told, error


def _with_marks(frames: Frames, marks: FloatArray, track: Track, tap: float) -> Track:
    """The track with the marks themselves in it."""
    points, error = track.points.copy(), track.error.copy()
    points[frames], error[frames] = marks, tap
    missing = ~np.isfinite(points).all(axis=1) | ~np.isfinite(error)
    points[missing], error[missing] = np.nan, np.nan
    return Track(points, error)
