"""How each measure shows in a figure: its own line or angle, and which way it should go."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View

Line = tuple[FloatArray, FloatArray]
_Spot = Callable[[FloatArray], FloatArray]

_REACH: Final[float] = 0.11
"""Body heights of a line that something is held against."""


@dataclass(frozen=True)
class Poses:
    """The poses that a measure rests on, each of shape (n_points, 2), y down.

    ``now`` is the one drawn; ``address`` and ``arm_level`` (P3) hold NaN where not shown.
    ``stature`` is a body height in the poses' unit. ``forward`` is the way along x, 1 or -1, that
    goes to the target face-on and to the ball down the line.
    """

    now: FloatArray
    address: FloatArray
    arm_level: FloatArray
    stature: float
    forward: float
    view: View


@dataclass(frozen=True)
class Growth:
    """Where a measured length ends, which way it grows, and how far for one of its unit."""

    end: FloatArray
    along: FloatArray
    per_unit: float


@dataclass(frozen=True)
class Turn:
    """A turn of the body seen from the front, about ``middle``, that grows toward ``way``."""

    middle: FloatArray
    half_width: float
    way: float


@dataclass(frozen=True)
class Mark:
    """How a measure shows: ``own`` lines, and those that it is held ``against``.

    One of three says what growing looks like: ``corner``, an angle's corner with the ends of its
    rays, the first what it is held against; ``growth``; ``turn``. ``sense`` says which way round an
    angle grows that may exceed half a turn, 1 counterclockwise.
    """

    own: tuple[Line, ...]
    against: tuple[Line, ...]
    corner: tuple[FloatArray, FloatArray, FloatArray] | None = None
    sense: float | None = None
    growth: Growth | None = None
    turn: Turn | None = None


def mark_of(measure: str, poses: Poses) -> Mark | None:
    """The mark of a measure by its name; ``None`` where it has none or a point is missing."""
    draw = _MARKS.get(measure)
    mark = draw(poses) if draw else None
    if mark is None or not all(_known(*line) for line in (*mark.own, *mark.against)):
        return None
    return mark


def _known(*points: FloatArray) -> bool:
    return all(bool(np.isfinite(p).all()) for p in points)


def _hands(pose: FloatArray) -> FloatArray:
    return np.asarray(pose[[Point.LEAD_WRIST, Point.TRAIL_WRIST]].mean(axis=0))


def _chest(pose: FloatArray) -> FloatArray:
    return np.asarray(pose[[Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER]].mean(axis=0))


def _hips(pose: FloatArray) -> FloatArray:
    return np.asarray(pose[[Point.LEAD_HIP, Point.TRAIL_HIP]].mean(axis=0))


def _of(point: Point) -> _Spot:
    return lambda pose: pose[point]


def _line(pose: FloatArray, start: Point, end: Point) -> Line:
    return pose[start], pose[end]


def _onward(start: FloatArray, through: FloatArray, length: float) -> FloatArray:
    """The point that lies a length beyond ``through``, seen from ``start``."""
    return np.asarray(through + unit(through - start) * length)


def _length(line: Line) -> float:
    return float(np.hypot(*(line[1] - line[0])))


def unit(way: FloatArray) -> FloatArray:
    """The same way, of length 1, shape (2,)."""
    return np.asarray(way / max(float(np.hypot(*way)), 1e-9))


def _arm_rise(poses: Poses) -> Mark:
    shoulder, wrist = _line(poses.now, Point.LEAD_SHOULDER, Point.LEAD_WRIST)
    before = _line(poses.arm_level, Point.LEAD_SHOULDER, Point.LEAD_WRIST)
    reach = np.copysign(_length(before), (before[1] - before[0])[0])
    was = shoulder + np.array([reach, 0.0])
    return Mark(((shoulder, wrist),), ((shoulder, was),), (shoulder, was, wrist))


def _hand_path(poses: Poses) -> Mark:
    start, end = _hands(poses.arm_level), _hands(poses.now)
    level = start - np.array([_REACH * poses.stature * poses.forward, 0.0])
    return Mark(((start, end),), ((start, level),), (start, level, end))


def _arm_to_shoulders(poses: Poses) -> Mark:
    arm = _line(poses.now, Point.LEAD_SHOULDER, Point.LEAD_WRIST)
    line = _line(poses.now, Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)
    far = _onward(line[0], line[1], 0.5 * _REACH * poses.stature)
    return Mark((arm,), ((line[0], far),), (arm[0], far, arm[1]))


def _shoulders_since(earlier: Callable[[Poses], FloatArray], way: float) -> Callable[[Poses], Mark]:
    """The line of the shoulders against an earlier one; it turns toward the target or away."""

    def mark(poses: Poses) -> Mark:
        now, before = (
            _line(p, Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER) for p in (poses.now, earlier(poses))
        )
        # Held against where the chest is now, or a drift of the body would look like a turn.
        at_now = _chest(poses.now) - _chest(earlier(poses))
        turn = Turn(_chest(poses.now), 0.11 * poses.stature, way * poses.forward)
        return Mark((now,), ((before[0] + at_now, before[1] + at_now),), turn=turn)

    return mark


def _face(poses: Poses) -> Mark:
    now, before = (
        (p[[Point.LEAD_EAR, Point.TRAIL_EAR]].mean(axis=0), p[Point.NOSE])
        for p in (poses.now, poses.address)
    )
    moved = now[0] - before[0]
    return Mark((now,), ((before[0] + moved, before[1] + moved),))


def _shaft_to_shoulder(poses: Poses) -> Mark:
    grip, head = _line(poses.now, Point.LEAD_WRIST, Point.CLUBHEAD)
    shoulder = poses.now[Point.TRAIL_SHOULDER]
    upper_arm = _length(_line(poses.now, Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW))
    along = unit(head - grip)
    foot = grip + along * float(np.dot(shoulder - grip, along))
    near, far = _onward(head, foot, _REACH * poses.stature), head
    # With the clubhead behind the hands, right of the way from grip to head is above it.
    upward = poses.forward * np.array([-along[1], along[0]])
    return Mark(((shoulder, foot),), ((near, far),), growth=Growth(foot, upward, upper_arm))


def _travel(of: _Spot, way: Callable[[Poses], tuple[float, float]]) -> Callable[[Poses], Mark]:
    """The way from address, along the direction in which it grows, to where it is now."""

    def mark(poses: Poses) -> Mark:
        before, now, along = of(poses.address), of(poses.now), np.array(way(poses))
        start = now - along * float(np.dot(now - before, along))
        reach = _REACH * poses.stature * 0.5 * np.abs(along[::-1])
        growth = Growth(now, along, poses.stature / 100.0)
        return Mark(((start, now),), ((start - reach, start + reach),), growth=growth)

    return mark


def _up(poses: Poses) -> tuple[float, float]:
    return 0.0, -1.0


def _forward(poses: Poses) -> tuple[float, float]:
    """To the target face-on, to the ball down the line."""
    return poses.forward, 0.0


def _away_from_target(poses: Poses) -> tuple[float, float]:
    return -poses.forward, 0.0


def _outward(poses: Poses) -> tuple[float, float]:
    """Away from the target face-on, toward the ball down the line."""
    towards = _forward if poses.view is View.DOWN_THE_LINE else _away_from_target
    return towards(poses)


def _elbows(poses: Poses) -> Mark:
    lead, trail = _line(poses.now, Point.LEAD_ELBOW, Point.TRAIL_ELBOW)
    before = _length(_line(poses.address, Point.LEAD_ELBOW, Point.TRAIL_ELBOW))
    along = unit(trail - lead)
    # As far apart as at address, beside the line between them now.
    aside = 0.03 * poses.stature * np.array([-along[1], along[0]])
    was = (lead + aside, lead + aside + along * before)
    return Mark(((lead, trail),), (was,), growth=Growth(trail, along, poses.stature / 100.0))


def _bend(poses: Poses) -> Mark:
    upper = _line(poses.now, Point.LEAD_SHOULDER, Point.LEAD_ELBOW)
    fore = _line(poses.now, Point.LEAD_ELBOW, Point.LEAD_WRIST)
    straight = _onward(*upper, _length(fore))
    return Mark((fore,), ((fore[0], straight),), (fore[0], straight, fore[1]))


def _shaft_to_arm(poses: Poses) -> Mark:
    arm = _line(poses.now, Point.LEAD_SHOULDER, Point.LEAD_WRIST)
    shaft = _line(poses.now, Point.LEAD_WRIST, Point.CLUBHEAD)
    straight = _onward(*arm, 0.7 * _length(shaft))
    return Mark((shaft,), ((shaft[0], straight),), (shaft[0], straight, shaft[1]))


def _tilt(poses: Poses) -> Mark:
    lead, trail = _line(poses.now, Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)
    level = np.array([trail[0], lead[1]])
    return Mark(((lead, trail),), ((lead, level),), (lead, level, trail))


def _arm_swing(poses: Poses) -> Mark:
    shoulder, wrist = _line(poses.now, Point.LEAD_SHOULDER, Point.LEAD_WRIST)
    hanging = shoulder + np.array([0.0, 0.8 * _length((shoulder, wrist))])
    # From hanging over the trail side.
    corner, sense = (shoulder, hanging, wrist), -poses.forward
    return Mark(((shoulder, wrist),), ((shoulder, hanging),), corner, sense)


def _trunk(poses: Poses) -> Mark:
    hips, chest = _hips(poses.now), _chest(poses.now)
    way = _chest(poses.address) - _hips(poses.address)
    bent = hips + _length((hips, chest)) * unit(way)
    return Mark(((hips, chest),), ((hips, bent),), (hips, bent, chest))


def _hips_to_ankle(poses: Poses) -> Mark:
    """The middle of the hips against the upright over the lead ankle, away from the target."""
    hips, ankle = _hips(poses.now), poses.now[Point.LEAD_ANKLE]
    above = np.array([ankle[0], hips[1]])
    top = above - np.array([0.0, 0.5 * _REACH * poses.stature])
    growth = Growth(hips, np.array(_away_from_target(poses)), poses.stature / 100.0)
    return Mark(((above, hips),), ((ankle, top),), growth=growth)


def _hinge(poses: Poses) -> Mark:
    wrist, shoulder = _line(poses.now, Point.LEAD_WRIST, Point.LEAD_SHOULDER)
    head = poses.now[Point.CLUBHEAD]
    return Mark(((wrist, head),), ((wrist, shoulder),), (wrist, shoulder, head))


_MARKS: Final[Mapping[str, Callable[[Poses], Mark]]] = {
    "hand_path_steepness": _hand_path,
    "lead_arm_above_shoulder_line": _arm_to_shoulders,
    "lead_arm_elevation_gained": _arm_rise,
    "chest_turn_gained": _shoulders_since(lambda poses: poses.arm_level, way=-1.0),
    "shaft_offset_from_trail_shoulder": _shaft_to_shoulder,
    "trail_heel_height": _travel(_of(Point.TRAIL_HEEL), _up),
    "trail_heel_outward": _travel(_of(Point.TRAIL_HEEL), _outward),
    "elbow_gap_growth": _elbows,
    "lead_elbow_bend_through": _bend,
    "clubhead_ahead_of_hands": _shaft_to_arm,
    "shoulder_tilt": _tilt,
    "hand_height_at_impact": _travel(_hands, _up),
    "trail_knee_travel": _travel(_of(Point.TRAIL_KNEE), _forward),
    "upper_body_drift": _travel(_chest, _away_from_target),
    "lead_arm_swing": _arm_swing,
    "chest_turn_through": _shoulders_since(lambda poses: poses.address, way=1.0),
    "head_turn_through": _face,
    "forward_bend_lost": _trunk,
    "pelvis_travel_to_ball": _travel(_hips, _forward),
    "hips_behind_lead_ankle": _hips_to_ankle,
    "pelvis_travel_to_target": _travel(_hips, _forward),
    "wrist_hinge_coming_down": _hinge,
}
"""By the measure's name; what has no place in the picture, such as the tempo, has none."""
