"""Paths of the body's landmarks that finding a swing needs: hands, hips, shoulders.

All in body heights with y up. Works on anatomical and canonical order alike, since it
treats both sides the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isnan
from typing import Final

import numpy as np

from service.analysis.pose.geometry import frame_interval, squared_length
from service.analysis.pose.points import Point
from service.analysis.pose.rows import row_median
from service.analysis.pose.timeline import Timeline
from service.analysis.types import FloatArray

_BRIDGE: Final[float] = 0.3
"""Seconds over which the hands' path is bridged when neither wrist is seen."""
SURE: Final[float] = 0.6
"""Confidence from which a wrist is taken as seen; below it its place is an estimator's or an
annotator's guess (common practice: estimators put what they don't see at or below a half)."""
_ON_ONE_HANDLE: Final[float] = 0.10
"""Body heights between the wrists up to which both are followed: two hands' breadths on a grip."""
_APART: Final[float] = 0.16
"""Body heights between the wrists from which only the better one is followed."""
_REACH: Final[float] = 15.0
"""Log odds for the better wrist of one body height more from its shoulder: one arm at least is
long in a swing, and an arm that is lost collapses onto the trunk."""
_SEEN: Final[float] = 10.0
"""Log odds for the better wrist of one unit of confidence."""
_ROUGH: Final[float] = 40.0
"""Log odds against a wrist of one body height of bend between neighbouring moments."""
_STEADY: Final[float] = 0.15
"""Seconds over which the better wrist is chosen; which one it is does not change from one frame
to the next."""
_BEND: Final[float] = 1 / 30
"""Seconds between the moments from which a path's bend is told."""

_LEAPS: Final[float] = 0.065
"""Body heights above its usual place at which a whole foot, toe and all, is not seen right. Of 58
feet that a real estimator saw, 54 stay within 6 % up to impact and four leap by 8 to 19 %; of 144
that a simulated one saw, none."""

_LONGEST_FOREARM: Final[float] = 0.22
"""Body heights from elbow to wrist that no arm reaches in the picture. Of frames of real swings
annotated joint by joint 1 in 280 show more, of those an estimator saw 1 in 45."""
_WRISTS: Final = [Point.LEAD_WRIST, Point.TRAIL_WRIST]
_ELBOWS: Final = [Point.LEAD_ELBOW, Point.TRAIL_ELBOW]
_SHOULDERS: Final = [Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER]
_FOLLOWED: Final = np.array(
    [
        *_WRISTS,
        *_SHOULDERS,
        *(Point.LEAD_HIP, Point.TRAIL_HIP),
        *(Point.LEAD_ANKLE, Point.TRAIL_ANKLE),
        *(Point.NECK, Point.MID_HIP),
        *(Point.LEAD_ELBOW, Point.TRAIL_ELBOW),
    ]
)
"""Joints from which paths are taken."""
_FIRST, _SECOND = np.array([[0, 2, 4], [1, 3, 5]])
_CHEST, _PELVIS = 1, 2
"""Of these the pairs of which middles are followed, those of the wrists first."""
_ANKLES: Final = slice(6, 8)
_NECK, _MID_HIP = 8, 9
_FROM, _TO = np.array([[0, 10, 10, 11], [1, 11, 0, 1]])
"""Between which a length is told: wrists, elbows, forearms."""
_FEET: Final = [
    [Point.LEAD_ANKLE, Point.LEAD_HEEL, Point.LEAD_TOE, Point.LEAD_SMALL_TOE],
    [Point.TRAIL_ANKLE, Point.TRAIL_HEEL, Point.TRAIL_TOE, Point.TRAIL_SMALL_TOE],
]
"""Ankle, heel and big toe, and what goes with them."""


@dataclass(frozen=True)
class Tracks:
    """Paths over the frames of a clip.

    Attributes
    ----------
    times : array of shape (n_frames,)
    frame : float
        Usual time between frames in seconds; NaN in a clip of one.
    hands, hips, shoulders : arrays of shape (n_frames, 2)
        Middle of the wrists, hips and shoulders. ``hands`` is bridged over short gaps.
    hands_apart : array of shape (n_frames,)
        Distance between the wrists; NaN where one is missing or not surely seen.
    wrists_apart : array of shape (n_frames,)
        The same wherever both are placed, however unsurely.
    elbows_apart : array of shape (n_frames,)
        Distance between the elbows.
    forearm : array of shape (n_frames,)
        From elbow to wrist, on the side where that is farther.
    ankles : array of shape (n_frames, 2, 2)
        Both ankles.
    path : array of shape (n_frames, 2)
        The hands against the hips.
    height : array of shape (n_frames,)
        Height of the hands above the hips.
    speed : array of shape (n_frames,)
        Speed of the hands against the hips, body heights a second; NaN in a clip of one frame.
    """

    times: FloatArray
    frame: float
    hands: FloatArray
    hips: FloatArray
    shoulders: FloatArray
    hands_apart: FloatArray
    wrists_apart: FloatArray
    elbows_apart: FloatArray
    forearm: FloatArray
    ankles: FloatArray
    path: FloatArray
    height: FloatArray
    speed: FloatArray

    def mirrored(self) -> Tracks:
        """The same with x the other way."""
        flip = np.array([-1.0, 1.0])
        return replace(
            self,
            hands=self.hands * flip,
            hips=self.hips * flip,
            shoulders=self.shoulders * flip,
            ankles=self.ankles * flip,
            path=self.path * flip,
        )


def follow(points: FloatArray, times: FloatArray, confidence: FloatArray | None = None) -> Tracks:
    """What :func:`follow_all` takes from one clip; without confidence every point there counts as
    seen."""
    sure = np.ones(points.shape[:2]) if confidence is None else confidence
    return follow_all([(points, times, sure)])[0]


def follow_all(clips: Sequence[tuple[FloatArray, FloatArray, FloatArray]]) -> list[Tracks]:
    """Take the paths from poses of some clips.

    Parameters
    ----------
    clips
        Of each its points, shape (n_frames, n_points, 2); the times of its frames, shape
        (n_frames,); and the confidence of the points from 0 to 1, shape (n_frames, n_points).
    """
    if not clips:
        return []
    line = Timeline.of([times for _, times, _ in clips])
    joints = np.concatenate([points.take(_FOLLOWED, axis=1) for points, *_ in clips])
    sure = np.concatenate([confidence.take(_WRISTS, axis=1) for *_, confidence in clips])
    # With time innermost what follows runs along memory.
    paths = np.ascontiguousarray(joints.T)
    middles = _middle(paths.take(_FIRST, axis=1), paths.take(_SECOND, axis=1), line)
    for pair, joint in ((_CHEST, _NECK), (_PELVIS, _MID_HIP)):
        _fill(middles[:, pair], paths[:, joint])
    lengths = np.sqrt(squared_length(paths.take(_FROM, axis=1) - paths.take(_TO, axis=1)))
    apart, elbows_apart, *forearms = lengths
    hands, chest, pelvis = np.ascontiguousarray(middles.transpose(1, 2, 0))
    _put_better_hands(hands, joints, apart, sure, line)
    path = hands - pelvis
    along = np.ascontiguousarray(path.T)
    told = (
        hands,
        pelvis,
        chest,
        np.where((sure[:, 0] >= SURE) & (sure[:, 1] >= SURE), apart, np.nan),
        apart,
        elbows_apart,
        np.fmax(*forearms),
        joints[:, _ANKLES],
        path,
        along[1],
        np.sqrt(squared_length(line.velocity(along))),
    )
    return [
        Tracks(times, frame_interval(times), *(each[span] for each in told))
        for span, (_, times, _) in zip(line.spans, clips, strict=True)
    ]


def _put_better_hands(
    hands: FloatArray, joints: FloatArray, apart: FloatArray, sure: FloatArray, line: Timeline
) -> None:
    """Put the better wrist in the place of the hands where these are far apart, in place.

    Both hands hold one handle, so wrists that are far apart say that one of them was lost; then
    the better one alone is followed. Short gaps are bridged.

    Parameters
    ----------
    hands : array of shape (n_frames, 2)
        The middle of the wrists.
    joints : array of shape (n_frames, n_followed, 2)
    apart : array of shape (n_frames,)
    sure : array of shape (n_frames, 2 sides)
    """
    for clip in line.clips_with(apart > _ON_ONE_HANDLE):
        span = line.spans[clip]
        hands[span] = _better_hands(joints[span], apart[span], sure[span], line.times[span])
    for clip in line.clips_with(np.isnan(hands[:, 0] + hands[:, 1])):
        span = line.spans[clip]
        hands[span] = bridge(hands[span], line.times[span], _BRIDGE)


def _better_hands(
    joints: FloatArray, apart: FloatArray, sure: FloatArray, times: FloatArray
) -> FloatArray:
    """Where the hands are in a clip in which the wrists are ever far apart, shape (n_frames, 2);
    others as in :func:`_put_better_hands`."""
    wrists, shoulders, lost = joints[:, :2], joints[:, 2:4], np.isnan(apart)
    together = np.where((apart <= _ON_ONE_HANDLE)[:, None, None], wrists, np.nan)
    together[lost] = wrists[lost]
    middle = 0.5 * (wrists[:, 0] + wrists[:, 1])
    one, other = together[:, :1].T, together[:, 1:].T
    middle[lost] = _middle(one, other, Timeline.of([times]))[:, 0].T[lost]
    first = 1.0 / (1.0 + np.exp(-_odds_of_first(wrists, shoulders, sure, times)))[:, None]
    better = first * wrists[:, 0] + (1.0 - first) * wrists[:, 1]
    alone = np.clip((apart - _ON_ONE_HANDLE) / (_APART - _ON_ONE_HANDLE), 0.0, 1.0)[:, None]
    return np.where(lost[:, None], middle, middle + alone * (better - middle))


def without_lost_wrists(points: FloatArray, tracks: Tracks, confidence: FloatArray) -> FloatArray:
    """The poses without wrists that can't be where they are said to be.

    A wrist goes where it is not surely seen, lies farther from the other than two hands on one
    handle do, and the other tells better where the hands are. So does one, however sure, that is
    farther from its elbow than a forearm is long. What is measured at it can't be told then.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
    tracks : Tracks
        The paths taken from them.
    confidence : array of shape (n_frames, n_points)

    Returns
    -------
    array of the same shape as ``points``: itself where nothing goes, else a copy with NaN
    """
    forearms = points.take(_WRISTS, axis=1) - points.take(_ELBOWS, axis=1)
    lost = np.hypot(forearms[..., 0], forearms[..., 1]) > _LONGEST_FOREARM
    sure = confidence.take(_WRISTS, axis=1)
    doubtful = (tracks.wrists_apart > _ON_ONE_HANDLE)[:, None] & (sure < SURE)
    if doubtful.any():
        wrists, shoulders = points.take(_WRISTS, axis=1), points.take(_SHOULDERS, axis=1)
        odds = _odds_of_first(wrists, shoulders, sure, tracks.times)
        lost |= doubtful & np.column_stack([odds < 0, odds >= 0])
    if not lost.any():
        return points
    kept = points.copy()
    for side, wrist in enumerate(_WRISTS):
        kept[lost[:, side], wrist] = np.nan
    return kept


def without_leaping_feet(points: FloatArray, standing: slice, last: int) -> FloatArray:
    """The poses without feet that leave the ground whole before the ball is struck.

    A heel comes up about its toe; where ankle, heel and toe are all above their place at once, the
    estimator has lost the foot, and a heel kick must not be told from it.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        y up, body heights.
    standing : slice of frames
        In which the feet have their usual place, from address to the top.
    last : int
        Frame up to which feet stay on the ground: a little after impact.

    Returns
    -------
    array of the same shape as ``points``: itself where nothing goes, else a copy with NaN
    """
    kept = points
    for foot in _FEET:
        heights = points[..., 1].take(foot[:3], axis=1)
        if isnan(np.add.reduce(heights[standing], axis=None)):
            continue  # no usual place of the whole foot
        rise = (heights - row_median(heights[standing].T)).min(axis=1)
        leaps = (rise[: last + 1] > _LEAPS).nonzero()[0]
        if leaps.size:
            kept = points.copy() if kept is points else kept
            kept[leaps[:, None], foot] = np.nan
    return kept


def _odds_of_first(
    wrists: FloatArray, shoulders: FloatArray, sure: FloatArray, times: FloatArray
) -> FloatArray:
    """Log odds that the first wrist tells better where the hands are, shape (n_frames,)."""
    reach = np.hypot(*np.moveaxis(wrists - shoulders, -1, 0))
    frames = max(1, round(_BEND / frame_interval(times)))
    bend = np.zeros(wrists.shape[:2])
    if len(times) > 2 * frames:
        second = wrists[2 * frames :] - 2 * wrists[frames:-frames] + wrists[: -2 * frames]
        bend[frames:-frames] = np.hypot(second[..., 0], second[..., 1])
    merit = _REACH * reach + _SEEN * sure - _ROUGH * bend
    odds = np.nan_to_num(merit[:, 0] - merit[:, 1])
    return _averaged(odds, max(1, round(_STEADY / frame_interval(times))))


def _averaged(values: FloatArray, reach: int) -> FloatArray:
    """Mean over ``reach`` frames on either side, fewer at the ends; shape (n_frames,)."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    frames = np.arange(len(values))
    first, last = np.maximum(frames - reach, 0), np.minimum(frames + reach + 1, len(values))
    return np.asarray((total[last] - total[first]) / (last - first))


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
    seen = np.flatnonzero(~np.isnan(path[:, 0] + path[:, 1]))
    if seen.size < 2 or seen.size == len(path):
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


def _fill(path: FloatArray, otherwise: FloatArray) -> None:
    """Put another path, shape (2, n_frames), in frames in which a path isn't seen, in place."""
    if isnan(np.add.reduce(path, axis=None)):
        np.copyto(path, otherwise, where=np.isnan(path))


def _middle(first: FloatArray, second: FloatArray, line: Timeline) -> FloatArray:
    """Middles of pairs of points; where one is missing, the other with the half-gap as the frames
    about it have it. All of shape (2, n_pairs, n_frames)."""
    half = 0.5 * (second - first)
    if not isnan(np.add.reduce(half, axis=None)):
        return np.asarray(first + half)
    for own in half.swapaxes(0, 1):
        for clip in line.clips_with(np.isnan(own[0] + own[1])):
            own[:, line.spans[clip]] = _in_between(own[:, line.spans[clip]])
    middle = first + half
    return np.where(np.isnan(middle), second - half, middle)


def _in_between(half: FloatArray) -> FloatArray:
    """Half-gaps of shape (2, n_frames), those that are missing from the ones about them; 0 where
    none is known."""
    known = np.flatnonzero(~np.isnan(half).any(axis=0))
    if not known.size:
        return np.zeros_like(half)
    frames = np.arange(half.shape[1])
    return np.array([np.interp(frames, known, axis[known]) for axis in half])
