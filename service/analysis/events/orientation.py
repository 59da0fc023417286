"""Camera view and handedness from the motion itself, and the turn into canonical form.

Each cue votes in log odds; the votes add up. The weights are judgements on how far a cue
can be trusted, checked against clips whose view is known, not fitted to them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, isnan
from typing import Final, TypeVar

import numpy as np

from service.analysis.events.detection import Downswing
from service.analysis.events.landmark_paths import Tracks
from service.analysis.pose.geometry import flexion, within
from service.analysis.pose.points import Point, swap_sides
from service.analysis.types import FloatArray, Handedness, Judged, View

Choice = TypeVar("Choice", View, Handedness)

LEAST_VIEW_CONFIDENCE: Final[float] = 0.75
"""Below this an inferred view is too unsure to judge what only one view shows."""
_SURE: Final[float] = 0.99
"""Highest confidence an inference may claim."""
_SPEAKS_AGAINST: Final[float] = 0.95
"""Confidence from which what is seen speaks against what was given. Of 137 real clips with the view
given right, or as their source guesses it, it does so in one; given wrong, in 126 of 138."""


@dataclass(frozen=True)
class _Divide:
    """A quantity that lies on either side of a value by which way a choice falls.

    ``half`` is the value that says nothing, ``unit`` what adds one to the log odds; both in the
    quantity's own unit.
    """

    half: float
    unit: float

    def vote(self, value: float) -> float:
        """Log odds that the quantity is the larger kind, at most 4 either way; NaN if not seen."""
        return within((value - self.half) / self.unit, -_LOUDEST, _LOUDEST)


_LOUDEST: Final[float] = 4.0
"""Log odds that one cue may give at most."""
_SHOULDERS: Final = _Divide(0.13, 0.03)
"""Shoulder width, body heights: about 0.2 face-on. Values of this table: from simulated swings and
drawings of annotated clips ([jhuang2013], [zhang2013]); nearly the same divide."""
_HIPS: Final = _Divide(0.085, 0.025)
"""Hip width, body heights: 0.1 (estimators) to 0.17 (annotators) face-on."""
_STANCE: Final = _Divide(0.14, 0.02)
"""Ankles apart across the picture, body heights: above 0.16 face-on, below 0.11 down the line."""
_SWEEP: Final = _Divide(0.07, 0.03)
"""Sideways travel of the hands beyond the low point, body heights."""
_LEAN: Final = _Divide(20.0, 4.0)
"""Degrees of trunk lean: side tilt face-on, a bend from the hips down the line."""
_HIP_ORDER: Final = _Divide(0.0, 0.02)
"""How far the left hip lies to the target side of the right hip, body heights."""
_SHOULDERS_AT_TOP: Final = _Divide(0.0, 0.03)
"""How far the left shoulder lies to the ball side of the right at the top, body heights; used
where the clip ends before the hands rise again."""
_TURN: Final = _Divide(0.0, 0.05)
"""By how much that changes from the backswing to the finish, body heights; 0.2 to 0.3 in plain
clips, 0.1 where an estimator confuses the sides."""
_ELBOW: Final = _Divide(0.0, 15.0)
"""Degrees by which the right elbow is more bent than the left at the top."""
_BOTH_SHOULDERS: Final = [Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER]
_ELBOWS: Final = [Point.LEAD_ELBOW, Point.TRAIL_ELBOW]
_WRISTS: Final = [Point.LEAD_WRIST, Point.TRAIL_WRIST]
_LOUDEST_ELBOW: Final[float] = 3.0
_USUAL_CAMERA: Final[float] = 1.0
"""Log odds that a down-the-line camera stands behind the hands, where a right-hander faces image
right (common practice)."""


@dataclass(frozen=True)
class Orientation:
    """How the clip was filmed and how its image maps to the canonical frame.

    ``flipped`` says that x was mirrored to reach the canonical frame;
    ``camera_opposite`` that the camera stands on the far side of the usual place (behind
    the player face-on, or beyond the ball looking back down the line). ``seen_view`` and
    ``seen_handedness`` are what picture and motion say, also where they were given.
    """

    view: Judged[View]
    handedness: Judged[Handedness]
    flipped: bool
    camera_opposite: bool
    seen_view: Judged[View]
    seen_handedness: Judged[Handedness]

    @property
    def view_contradicted(self) -> bool:
        """Whether the view was given and the picture clearly shows the other one."""
        return _contradicted(self.view, self.seen_view)

    @property
    def handedness_contradicted(self) -> bool:
        """Whether the handedness was given and the motion is clearly that of the other one."""
        return _contradicted(self.handedness, self.seen_handedness)


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
        seen_view=seen_view,
        seen_handedness=seen_hand,
    )


def to_canonical(values: FloatArray, orientation: Orientation) -> FloatArray:
    """Lead and trail for left and right, and x toward the target or the ball.

    Parameters
    ----------
    values : array of shape (n_frames, n_points, 2)
        Anatomical order, y up.

    Returns
    -------
    array of the same shape in canonical order; of a right-hander it is ``values``, changed in place
    """
    left_handed = orientation.handedness.value is Handedness.LEFT
    canonical = swap_sides(values) if left_handed else values
    if orientation.flipped:
        canonical[..., 0] *= -1.0
    return canonical


def _contradicted(told: Judged[Choice], seen: Judged[Choice]) -> bool:
    return told.given and seen.value is not told.value and seen.confidence >= _SPEAKS_AGAINST


def _infer_view(points: FloatArray, tracks: Tracks, swing: Downswing) -> Judged[View]:
    still = slice(swing.start, swing.start + max(3, (swing.top - swing.start) // 4))
    shoulders = _width(points[still], Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)
    hips = _width(points[still], Point.LEAD_HIP, Point.TRAIL_HIP)
    trunk = tracks.shoulders[still] - tracks.hips[still]
    lean = np.degrees(np.arctan2(np.abs(trunk[:, 0]), trunk[:, 1]))
    stance = np.abs(tracks.ankles[still, 0, 0] - tracks.ankles[still, 1, 0])
    votes = [
        _SHOULDERS.vote(shoulders),
        _HIPS.vote(hips),
        _STANCE.vote(_median(stance)),
        -_LEAN.vote(_median(lean)),
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
    return _SWEEP.vote(float(np.fmax.reduce(onward)))


def _image_side(tracks: Tracks, swing: Downswing, view: View) -> float:
    """+1 if the target (face-on) or the ball (down the line) lies to image right, else -1.

    Down the line the hands go in over the trail shoulder and come out to the ball, and the trunk
    leans to it going back; where one of the two is mistaken the other tells.
    """
    back = _hands_beside_hips(tracks, swing.start, swing.top)
    if view is View.FACE_ON:
        return 1.0 if _goes_across(tracks, swing) >= 0 else -1.0
    hanging = (
        back[0] if swing.low is None else tracks.hands[swing.low, 0] - tracks.hips[swing.low, 0]
    )
    return 1.0 if hanging - back[-1] + _bend(tracks, swing) >= 0.0 else -1.0


def _bend(tracks: Tracks, swing: Downswing) -> float:
    """How far the shoulders are to the image right of the hips up to the ball: down the line a
    player bends over it, also one whose hands go up as steeply as they hang."""
    end = swing.top if swing.low is None else swing.low
    trunk = tracks.shoulders[swing.start : end + 1, 0] - tracks.hips[swing.start : end + 1, 0]
    return _or_none(_median(trunk))


def _goes_across(tracks: Tracks, swing: Downswing) -> float:
    """How far the hands go across the picture from the backswing's side to the other.

    Told halfway up, where face-on they are farthest out on either side, or from address where the
    clip ends before; 0 where they aren't seen.
    """
    low = swing.end if swing.low is None else swing.low
    lower = tracks.height < (tracks.height[swing.top] + tracks.height[low]) / 2
    across = tracks.hands[:, 0] - tracks.hips[:, 0]
    going = swing.start + lower[swing.start : swing.top].nonzero()[0][-1:]
    coming = swing.top + lower[swing.top : low + 1].nonzero()[0][:1]
    if swing.low is None:
        through = np.array([swing.start])
    else:
        leaving = swing.low + (~lower[swing.low : swing.end + 1]).nonzero()[0][:1]
        through = leaving if leaving.size else np.array([swing.end])
    return _or_none(_median(across[through]) - _median(across[[*going, *coming]]))


def _infer_handedness(
    points: FloatArray, swing: Downswing, view: View, toward: float
) -> Judged[Handedness]:
    """Which side leads: at the top its elbow is straight and, by view, where it lies.

    Face-on the lead side is the one toward the target. Down the line the turn to the top
    brings the lead shoulder to the ball side. Both hold from either side of the player.
    """
    top = points[max(swing.top - 2, 0) : swing.top + 3]
    bent = flexion(*(top.take(joint, axis=1) for joint in (_BOTH_SHOULDERS, _ELBOWS, _WRISTS)))
    left, right = _median(bent[:, 0]), _median(bent[:, 1])
    votes = [within(_ELBOW.vote(right - left), -_LOUDEST_ELBOW, _LOUDEST_ELBOW)]
    if view is View.FACE_ON:
        votes.append(toward * _HIP_ORDER.vote(_left_of_right(points, swing)))
    else:
        votes.extend([toward * _chest_turn(points, swing), toward * _USUAL_CAMERA])
    return _judge(votes, Handedness.RIGHT, Handedness.LEFT)


def _chest_turn(points: FloatArray, swing: Downswing) -> float:
    """Log odds that the left shoulder is turned to image right going back, not coming through.

    Down the line the backswing brings the lead shoulder to the ball side and the way through the
    trail shoulder. Told over halves of either, for which joint is nearer is easily mistaken.
    """
    order = points[:, Point.LEAD_SHOULDER, 0] - points[:, Point.TRAIL_SHOULDER, 0]
    if swing.low is None:
        return _SHOULDERS_AT_TOP.vote(_median(order[max(swing.top - 2, 0) : swing.top + 3]))
    back = order[(swing.start + swing.top) // 2 : (swing.top + swing.low) // 2 + 1]
    return _TURN.vote(_median(back) - _median(order[(swing.low + swing.end) // 2 : swing.end + 1]))


def _left_of_right(points: FloatArray, swing: Downswing) -> float:
    """How far the left hip lies to the image right of the right hip up to the top.

    Going back hips turn by less than would bring one past the other, and over so long no exchange
    of sides for some frames decides.
    """
    back = points[swing.start : max(swing.top, swing.start + 4) + 1]
    return _median(back[:, Point.LEAD_HIP, 0] - back[:, Point.TRAIL_HIP, 0])


def _judge(votes: list[float], yes: Choice, no: Choice) -> Judged[Choice]:
    total = sum(vote for vote in votes if not isnan(vote))
    confidence = min(1.0 / (1.0 + exp(-abs(total))), _SURE)
    return Judged(yes if total >= 0 else no, confidence, given=False)


def _hands_beside_hips(tracks: Tracks, first: int, last: int) -> FloatArray:
    span = slice(first, last + 1)
    return np.asarray(tracks.hands[span, 0] - tracks.hips[span, 0])


def _width(points: FloatArray, a: Point, b: Point) -> float:
    return _median(np.abs(points[:, a, 0] - points[:, b, 0]))


def _median(values: FloatArray) -> float:
    """Median of what is seen, NaN where nothing is; numpy's own takes several times as long."""
    ordered, count = np.sort(values), values.size
    if count and isnan(ordered.item(-1)):  # they go last
        count -= int(np.count_nonzero(np.isnan(ordered)))
    if not count:
        return float("nan")
    return 0.5 * (ordered.item((count - 1) // 2) + ordered.item(count // 2))


def _or_none(way: float) -> float:
    """A way in the picture, 0 where it isn't seen."""
    return 0.0 if isnan(way) else way
