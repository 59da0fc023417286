"""Camera view and handedness from the motion itself, and the turn into canonical form.

Each cue votes in log odds; the votes add up. The weights are judgements on how far a cue
can be trusted, checked against clips whose view is known, not fitted to them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np

from service.analysis.events.detection import Downswing
from service.analysis.events.landmark_paths import Tracks
from service.analysis.pose.geometry import flexion
from service.analysis.pose.points import Point, swap_sides
from service.analysis.types import FloatArray, Handedness, Judged, View

Choice = TypeVar("Choice", View, Handedness)

LEAST_VIEW_CONFIDENCE: Final[float] = 0.75
"""Below this an inferred view is too unsure to judge what only one view shows."""
_SURE: Final[float] = 0.99
"""Highest confidence an inference may claim."""
_WIDE_SHOULDERS: Final[float] = 0.13
"""Shoulder width halfway between face-on (about 0.2 of body height) and down the line."""
_WIDE_HIPS: Final[float] = 0.075
_WIDE_SWEEP: Final[float] = 0.07
"""Sideways travel of the hands beyond the low point, halfway between the views."""
_LEANING_TRUNK: Final[float] = 20.0
"""Degrees of trunk lean halfway between face-on (side tilt) and down the line (hip hinge)."""


@dataclass(frozen=True)
class Orientation:
    """How the clip was filmed and how its image maps to the canonical frame.

    ``flipped`` says that x was mirrored to reach the canonical frame;
    ``camera_opposite`` that the camera stands on the far side of the usual place (behind
    the player face-on, or beyond the ball looking back down the line).
    """

    view: Judged[View]
    handedness: Judged[Handedness]
    flipped: bool
    camera_opposite: bool


def orient(
    points: FloatArray,
    tracks: Tracks,
    swing: Downswing,
    *,
    view: View | None,
    handedness: Handedness | None,
) -> Orientation:
    """Judge view and handedness of the swing in a clip.

    Parameters
    ----------
    points : array of shape (n_frames, n_points, 2)
        Anatomical order, body heights, y up, x as in the image.
    view, handedness
        What the caller said; taken as given where not ``None``.
    """
    seen_view = _infer_view(points, tracks, swing)
    judged_view = Judged(view, 1.0, given=True) if view else seen_view
    toward = _image_side(tracks, swing, judged_view.value)
    seen_hand = _infer_handedness(points, swing, judged_view.value, toward)
    judged_hand = Judged(handedness, 1.0, given=True) if handedness else seen_hand
    usual = 1.0 if judged_hand.value is Handedness.RIGHT else -1.0
    return Orientation(
        view=judged_view,
        handedness=judged_hand,
        flipped=toward < 0,
        camera_opposite=_left_of_right(points, swing) < -0.02
        if judged_view.value is View.FACE_ON
        else toward != usual,
    )


def to_canonical(values: FloatArray, orientation: Orientation) -> FloatArray:
    """Lead and trail for left and right, and x toward the target or the ball.

    Parameters
    ----------
    values : array of shape (n_frames, n_points, 2)
        Anatomical order, y up.

    Returns
    -------
    array of the same shape in canonical order; a copy.
    """
    left_handed = orientation.handedness.value is Handedness.LEFT
    canonical = swap_sides(values) if left_handed else values.copy()
    if orientation.flipped:
        canonical[..., 0] *= -1.0
    return canonical


def _infer_view(points: FloatArray, tracks: Tracks, swing: Downswing) -> Judged[View]:
    still = slice(swing.start, swing.start + max(3, (swing.top - swing.start) // 4))
    shoulders = _width(points[still], Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)
    hips = _width(points[still], Point.LEAD_HIP, Point.TRAIL_HIP)
    trunk = tracks.shoulders[still] - tracks.hips[still]
    lean = np.degrees(np.arctan2(np.abs(trunk[:, 0]), trunk[:, 1]))
    votes = [
        _clip_vote(shoulders - _WIDE_SHOULDERS, 0.03),
        _clip_vote(hips - _WIDE_HIPS, 0.02),
        _clip_vote(_LEANING_TRUNK - _median(lean), 4.0),
        _sweep_vote(tracks, swing),
    ]
    return _judge(votes, View.FACE_ON, View.DOWN_THE_LINE)


def _sweep_vote(tracks: Tracks, swing: Downswing) -> float:
    """After the low point the hands go on across the picture only when seen face-on.

    Down the line they are farthest out at the low point and swing back in from there.
    """
    if swing.low is None:
        return float("nan")
    before = tracks.hands[swing.top, 0] - tracks.hips[swing.top, 0]
    through = _hands_beside_hips(tracks, swing.low, swing.end)
    onward = np.sign(through[0] - before) * (through - through[0])
    return _clip_vote(float(np.nanmax(onward)) - _WIDE_SWEEP, 0.03)


def _image_side(tracks: Tracks, swing: Downswing, view: View) -> float:
    """+1 if the target (face-on) or the ball (down the line) lies to image right, else -1."""
    back = _hands_beside_hips(tracks, swing.start, swing.top)
    if view is View.FACE_ON:
        if swing.low is None:
            return -1.0 if np.nanmean(back) > 0 else 1.0
        through = _hands_beside_hips(tracks, swing.low, swing.end)
        return 1.0 if np.nanmax(through) + np.nanmin(through) >= 2 * np.nanmean(back) else -1.0
    hanging = (
        back[0] if swing.low is None else tracks.hands[swing.low, 0] - tracks.hips[swing.low, 0]
    )
    return 1.0 if hanging >= back[-1] else -1.0


def _infer_handedness(
    points: FloatArray, swing: Downswing, view: View, toward: float
) -> Judged[Handedness]:
    """Which side leads: at the top its elbow is straight and, by view, where it lies.

    Face-on the lead side is the one toward the target. Down the line the turn to the top
    brings the lead shoulder to the ball side. Both hold from either side of the player.
    """
    top = points[max(swing.top - 2, 0) : swing.top + 3]
    left = _flexion(top, Point.LEAD_SHOULDER, Point.LEAD_ELBOW, Point.LEAD_WRIST)
    right = _flexion(top, Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW, Point.TRAIL_WRIST)
    votes = [float(np.clip((right - left) / 15.0, -3.0, 3.0))]
    if view is View.FACE_ON:
        votes.append(toward * _clip_vote(_left_of_right(points, swing), 0.02))
    else:
        shoulders = _median(top[:, Point.LEAD_SHOULDER, 0] - top[:, Point.TRAIL_SHOULDER, 0])
        # The camera usually stands behind the hands, where a right-hander faces image right.
        votes.extend([toward * _clip_vote(shoulders, 0.03), toward])
    return _judge(votes, Handedness.RIGHT, Handedness.LEFT)


def _left_of_right(points: FloatArray, swing: Downswing) -> float:
    """How far the left hip lies to the image right of the right hip early in the swing."""
    early = points[swing.start : swing.start + 5]
    return _median(early[:, Point.LEAD_HIP, 0] - early[:, Point.TRAIL_HIP, 0])


def _judge(votes: list[float], yes: Choice, no: Choice) -> Judged[Choice]:
    total = float(np.nansum(votes))
    confidence = min(1.0 / (1.0 + np.exp(-abs(total))), _SURE)
    return Judged(yes if total >= 0 else no, float(confidence), given=False)


def _clip_vote(value: float, unit: float) -> float:
    return float(np.clip(value / unit, -4.0, 4.0))


def _hands_beside_hips(tracks: Tracks, first: int, last: int) -> FloatArray:
    span = slice(first, last + 1)
    return np.asarray(tracks.hands[span, 0] - tracks.hips[span, 0])


def _width(points: FloatArray, a: Point, b: Point) -> float:
    return _median(np.abs(points[:, a, 0] - points[:, b, 0]))


def _flexion(points: FloatArray, a: Point, b: Point, c: Point) -> float:
    return _median(flexion(points[:, a], points[:, b], points[:, c]))


def _median(values: FloatArray) -> float:
    return float(np.nanmedian(values)) if not np.isnan(values).all() else float("nan")
