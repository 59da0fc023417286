"""Club points that can't be those of the club in the player's hands, left out and told of.

A club is held at its grip and is about half as long as the player: points in another unit or of
another moment, and points whose names were exchanged, lie elsewhere.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from service.analysis.pose.points import CLUB_POINTS, Point
from service.analysis.pose.rows import row_quantile
from service.analysis.pose.stature import body_height
from service.analysis.types import FloatArray, Level, Remark, SwingRecording

_CLUB: Final = [Point[name.upper()] for name in CLUB_POINTS]
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


def without_stray_club(recording: SwingRecording) -> SwingRecording:
    """The recording, without its club points and with a remark where these are not at the hands."""
    club = recording.points[..., 0].take(_CLUB, axis=1)
    if np.isnan(club).all() or not _astray(recording.points):
        return recording
    points, confidence = recording.points.copy(), recording.confidence.copy()
    points[:, _CLUB], confidence[:, _CLUB] = np.nan, 0.0
    remark = Remark(
        "club_astray",
        Level.WARNING,
        "The club points don't lie where the hands hold a club: they are left out.",
        "Send club_points in the unit and of the frames of keypoints, grip_end at the butt and "
        "clubhead at the far end.",
    )
    return replace(
        recording, points=points, confidence=confidence, remarks=(*recording.remarks, remark)
    )


def _astray(points: FloatArray) -> bool:
    some = points[:: 1 + len(points) // _ENOUGH_FRAMES]
    scale = body_height(some)
    wrists = some.take(_WRISTS, axis=1)
    one, other = wrists[:, 0], wrists[:, 1]
    hands = np.where(np.isnan(one), other, np.where(np.isnan(other), one, 0.5 * (one + other)))
    away = some.take([*_GRIP, Point.CLUBHEAD], axis=1) - hands[:, None]
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
