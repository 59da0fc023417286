"""Frames that nobody filmed, and frames that are lacking.

Frames are filled in where a film is slowed: shown again, or put between two others. A body that is
filmed is never quite where it was, nor in the middle between where it was and where it will be.
Where that holds of its joints together, far better than in the frames about it, nobody filmed the
frame. Where frames were dropped and no time says so, arms go several times as far from one frame to
the next as they do before and after.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate
from typing import Final, NamedTuple

import numpy as np

from service.analysis.pose.geometry import distance, frame_interval, midpoint
from service.analysis.pose.points import Point
from service.analysis.pose.rows import row_median
from service.analysis.types import BoolArray, FloatArray

_JOINTS: Final = ("SHOULDER", "ELBOW", "WRIST", "HIP", "KNEE")
_ELBOWS, _WRISTS = _JOINTS.index("ELBOW"), _JOINTS.index("WRIST")
_BOTH: Final = np.array(
    [[Point[f"{side}_{joint}"] for joint in _JOINTS] for side in ("LEAD", "TRAIL")]
)
"""Both sides count together, as an estimator may exchange them."""
_NEAR: Final[int] = 3
"""Frames about each that it is held against: a film at a quarter of its speed has three of four
filled in."""
_STANDS_OUT: Final[float] = 0.15
"""Share of the largest of their distances from the middle that a frame filled in has at most."""
_LONGEST_STEP: Final[float] = 1.5
"""Usual frames from one to the next beyond which some between them are told to be lacking."""
_BESIDE: Final[int] = 2
"""Steps before and after each that it is held against."""
_TIMES_AS_FAR: Final[float] = 2.0
"""How many times as far as in the largest of these both elbows' and both wrists' middles go where
frames are lacking. Of 123 real swings six have such a step, most of them of films that truly lack
frames, of 94 simulated and replayed ones none; with four bursts of four frames taken out it is 65
of 92 and 29 of 69."""
_FAR_ENOUGH: Final[float] = 0.25
"""Share of the longest step of the wrists below which a step is jitter and tells nothing."""


class Clip(NamedTuple):
    """A part of a clip that is looked at.

    Attributes
    ----------
    points : array of shape (n_frames, n_points, 2)
        Of the whole clip as they were sent, any unit.
    times : array of shape (n_frames,)
    first, last : int
        The part's frames, ``last`` not among them.
    """

    points: FloatArray
    times: FloatArray
    first: int
    last: int


class Frames(NamedTuple):
    """What the frames of that part tell.

    Attributes
    ----------
    filled_in : boolean array of shape (last - first,)
    lacking : array of shape (last - first,)
        How many frames seem to lack after each, of which the times say nothing.
    """

    filled_in: BoolArray
    lacking: FloatArray


def frame_by_frame(clips: Sequence[Clip]) -> list[Frames]:
    """What the frames of a part of each of some clips tell."""
    if not clips:
        return []
    begins = [max(clip.first - _NEAR - 1, 0) for clip in clips]
    parts = [
        clip.points[begin : clip.last + _NEAR + 1].take(_BOTH, axis=1)
        for begin, clip in zip(begins, clips, strict=True)
    ]
    starts = list(accumulate((len(part) + _NEAR for part in parts), initial=_NEAR))
    spans = [slice(start, start + len(part)) for start, part in zip(starts, parts, strict=False)]
    joints = np.zeros((starts[-1], *_BOTH.shape, 2))
    lasts = np.ones(starts[-1])
    for span, part, begin, clip in zip(spans, parts, begins, clips, strict=True):
        joints[span] = part
        lasts[span.start : span.stop - 1] = _lasts(clip.times)[begin : begin + len(part) - 1]
    body = midpoint(joints[:, 0], joints[:, 1])
    gone = distance(body[1:], body[:-1])
    filled = _filled_in(body, gone, lasts[:-1], spans)
    lacking = _lacking(gone, lasts[:-1], spans)
    own = [
        slice(span.start + clip.first - begin, span.start + clip.last - begin)
        for span, begin, clip in zip(spans, begins, clips, strict=True)
    ]
    return [Frames(filled[frames], lacking[frames]) for frames in own]


def _lasts(times: FloatArray) -> FloatArray:
    """How many usual frames each step of a clip lasts, one at least, shape (n_frames - 1,)."""
    return np.maximum((times[1:] - times[:-1]) / frame_interval(times), 1.0)


def _lacking(gone: FloatArray, lasts: FloatArray, spans: Sequence[slice]) -> FloatArray:
    """How many frames seem to lack in each step of some clips, shape (n_steps,).

    Parameters
    ----------
    gone : array of shape (n_steps, n_joints)
        How far each joint goes, the clips one behind the other.
    lasts : array of shape (n_steps,)
        How many usual frames each step lasts.
    spans : the frames of each clip
    """
    arms = np.zeros((len(gone) + 2 * _BESIDE, 2))
    steps = arms[_BESIDE:-_BESIDE]
    paces = np.fmax(gone.take([_ELBOWS, _WRISTS], axis=1) / lasts[:, None], 0.0)  # 0 for NaN
    longest = np.full(len(gone), np.inf)
    for span in spans:
        own = slice(span.start, span.stop - 1)
        steps[own] = paces[own]
        longest[own] = steps[own, 1].max(initial=0.0)
    beside = [k for k in range(2 * _BESIDE + 1) if k != _BESIDE]
    about = np.maximum.reduce([arms[k : k + len(gone)] for k in beside])
    far = steps[:, 1] > _FAR_ENOUGH * longest
    farther = (steps >= _TIMES_AS_FAR * about).all(axis=1) & (about > 0.0).all(axis=1) & far
    lacking = np.zeros(len(gone))
    lacking[farther] = (steps[farther] / about[farther]).min(axis=1) - 1.0
    return lacking


def _filled_in(
    body: FloatArray, gone: FloatArray, lasts: FloatArray, spans: Sequence[slice]
) -> BoolArray:
    """Which frames of some clips were filled in, shape (n_frames,).

    Parameters
    ----------
    body : array of shape (n_frames, n_joints, 2)
        The clips one behind the other, so far apart that none is held against another's.
    gone : array of shape (n_frames - 1, n_joints)
        How far each joint goes.
    lasts : array of shape (n_frames - 1,)
        How many usual frames each step lasts.
    spans : the frames of each
    """
    between, later = (np.zeros(len(body), dtype=bool) for _ in range(2))
    for span in spans:
        between[span.start + 1 : span.stop - 1] = later[span.start + 1 : span.stop] = True
    # Beside a gap that the times tell the middle of two frames is not half the way.
    between[1:-1] &= np.maximum(lasts[1:], lasts[:-1]) < _LONGEST_STEP
    told = row_median(distance(body[1:-1], midpoint(body[:-2], body[2:])))
    apart = np.zeros(len(body))
    apart[1:-1] = np.where(between[1:-1] & ~np.isnan(told), told, 0.0)
    filled = np.zeros(len(body), dtype=bool)
    filled[1:] = later[1:] & (row_median(gone) == 0.0)
    own, near = slice(_NEAR, -_NEAR), 2 * _NEAR + 1
    about = np.maximum.reduce([apart[k : len(apart) - near + 1 + k] for k in range(near)])
    filled[own] |= apart[own] < _STANDS_OUT * about
    return filled
