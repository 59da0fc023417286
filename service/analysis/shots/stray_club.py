"""Club points that can't be those of the club in the player's hands, left out and told of.

A club is held at its grip and is about half as long as the player: points in another unit or of
another moment, and points whose names were exchanged, lie elsewhere. A clubhead that lies on a foot
and stays there while the hands go on is a shoe that a tracker took for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from service.analysis.pose.points import CLUB_POINTS, Point
from service.analysis.pose.rows import row_quantile
from service.analysis.pose.stature import body_height
from service.analysis.types import BoolArray, FloatArray, Level, Remark, SwingRecording

_CLUB: Final = [Point[name.upper()] for name in CLUB_POINTS]
_FAR_END: Final = [Point.SHAFT_MID, Point.CLUBHEAD]
_WRISTS: Final = [Point.LEAD_WRIST, Point.TRAIL_WRIST]
_GRIP: Final = (Point.GRIP_END, Point.GRIP)
_ENOUGH_FRAMES: Final[int] = 60
"""From which sizes and distances are told well enough for this."""
_HELD: Final[float] = 0.15
_HELD_MOSTLY: Final[float] = 0.34
"""Body heights within which the grip is from the hands in half, and in nine of ten, of the frames.
Of 405 simulated clips of four makes the farthest are 0.13 and 0.33; where a club is told a third of
a second late, its grip is 0.37 away in the middle one."""
_SHORTEST: Final[float] = 0.15
_LONGEST: Final[float] = 0.8
"""Body heights that the clubhead is from the hands in half of the frames at least, and in 19 of 20
at most. Of the same clips the nearest is 0.19 and the farthest 0.77; from the hands to the head of
a driver it is some 1 m."""
_FEET: Final = [p for p in Point if any(n in p.name for n in ("ANKLE", "HEEL", "TOE"))]
_ON_A_FOOT: Final[float] = 0.04
"""Body heights across the picture and up it from an ankle, heel or toe within which the clubhead
lies on it."""
_HANDS_GO_ON: Final[float] = 0.05
"""Body heights that the hands go while the clubhead stays there, from which it is the foot. Of
the 101 of 192 simulated and replayed clips that show a club the most is 0.035, at address."""


def without_stray_club(recording: SwingRecording) -> SwingRecording:
    """The recording, without its club points and with a remark where these are not at the hands."""
    club = recording.points.take(_CLUB, axis=1)[..., 0]
    if np.isnan(club).all():
        return recording
    some = recording.points[:: 1 + len(recording.points) // _ENOUGH_FRAMES]
    scale = body_height(some)
    if _astray(some, scale):
        return _without(
            recording,
            slice(None),
            _CLUB,
            "The club points don't lie where the hands hold a club: they are left out.",
            "Send club_points in the unit and of the frames of keypoints, grip_end at the butt and "
            "clubhead at the far end.",
        )
    shoe = _on_a_foot(recording.points, scale)
    if not shoe.any():
        return recording
    at = recording.times[np.argmax(shoe)]
    return _without(
        recording,
        shoe,
        _FAR_END,
        f"From {at:.2f} s on the clubhead stays on a foot while the hands go on, as where a "
        "tracker takes the shoe for it: it is left out there.",
        "Mark the clubhead by hand there, or leave it out where it was not seen (null).",
    )


def _without(
    recording: SwingRecording,
    frames: slice | BoolArray,
    lost: Sequence[Point],
    text: str,
    fix: str,
) -> SwingRecording:
    """The recording, without some points in some frames and with a remark that says so."""
    points, confidence = recording.points.copy(), recording.confidence.copy()
    for point in lost:
        points[frames, point], confidence[frames, point] = np.nan, 0.0
    remark = Remark("club_astray", Level.WARNING, text, fix)
    return replace(
        recording, points=points, confidence=confidence, remarks=(*recording.remarks, remark)
    )


def _hands(points: FloatArray) -> FloatArray:
    """The middle of the wrists, or the one that is seen, shape (n_frames, 2)."""
    wrists = points.take(_WRISTS, axis=1)
    one, other = wrists[:, 0], wrists[:, 1]
    return np.where(np.isnan(one), other, np.where(np.isnan(other), one, 0.5 * (one + other)))


def _astray(some: FloatArray, scale: float) -> bool:
    """Whether the club is elsewhere than in the hands in most of some frames."""
    away = some.take([*_GRIP, Point.CLUBHEAD], axis=1) - _hands(some)[:, None]
    far = np.hypot(away[..., 0], away[..., 1]).T / scale
    usual, mostly, farthest = (row_quantile(far, share) for share in (0.5, 0.9, 0.95))
    end, grip, head = range(len(far))
    held = end if np.isfinite(usual[end]) else grip
    # Nothing is said of what is not seen: no number lies beyond NaN.
    return bool(
        usual[held] > _HELD
        or mostly[held] > _HELD_MOSTLY
        or usual[head] < _SHORTEST
        or farthest[head] > _LONGEST
    )


def _on_a_foot(points: FloatArray, scale: float) -> BoolArray:
    """The frames in which the clubhead stays on a foot while the hands go on, shape (n_frames,).

    Frames in which it is not seen count neither way.
    """
    told = np.zeros(len(points), dtype=bool)
    places = np.ascontiguousarray(points.take([Point.CLUBHEAD, *_FEET], axis=1).T)
    across, up = np.abs(places[:, 1:] - places[:, :1]) < _ON_A_FOOT * scale
    near = across & up
    some = np.count_nonzero(near, axis=1) > 1
    if not some.any():
        return told
    frames = np.flatnonzero(~np.isnan(places[0, 0]))
    for own in near[some][:, frames]:
        turns = np.flatnonzero(np.diff(own, prepend=False, append=False))
        for first, last in turns.reshape(-1, 2).tolist():
            hands = _hands(points[frames[first:last]])
            way = np.fmax.reduce(hands) - np.fmin.reduce(hands)
            if np.hypot(*way) > _HANDS_GO_ON * scale:
                told[frames[first:last]] = True
    return told
