"""A fault's own measures drawn into a figure: what is measured, and what it is held against."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import CLUB_POINTS, Point
from service.analysis.types import FloatArray, Measurement, SwingAnalysis, View
from service.lessons.wording import number
from service.report._angles import SeenAngle
from service.report._svg import ANGLE, PAPER, add, lines

_Line = tuple[FloatArray, FloatArray]

_REACH = 46.0
_HEAD_LENGTH, _HEAD_WIDTH = 9.0, 5.0


@dataclass(frozen=True)
class Poses:
    """The poses that a measure rests on, each of shape (n_points, 2) in panel units, y down.

    ``now`` is the one drawn; ``address`` and ``arm_level`` (P3) hold NaN where not shown.
    """

    now: FloatArray
    address: FloatArray
    arm_level: FloatArray


@dataclass(frozen=True)
class Mark:
    """How a measure shows: ``own`` lines, those it is held ``against``, and maybe an angle.

    ``corner`` is the angle's corner with the ends of its rays, the first what it is held
    against. ``arrow`` gives the first own line a head.
    """

    own: tuple[_Line, ...]
    against: tuple[_Line, ...]
    corner: tuple[FloatArray, FloatArray, FloatArray] | None = None
    arrow: bool = False


@dataclass(frozen=True)
class ShownMeasure:
    """A measure of the fault with its value in one swing and its mark, if it can be drawn."""

    measurement: Measurement
    mark: Mark | None

    @property
    def text(self) -> str:
        """The measure with its value, as the analysis has it."""
        return f"{self.measurement.title}: {value_in_words(self.measurement)}"


def value_in_words(measurement: Measurement) -> str:
    """A value with its unit, short.

    >>> value_in_words(Measurement("tilt", "Tilt", "degrees", "P7", 37.6, 2.0))
    '38°'
    """
    if measurement.value is None:
        return "not measured"
    told = number(measurement.value, measurement.unit).replace("-", "\N{MINUS SIGN}")
    return f"{told}°" if measurement.unit == "degrees" else f"{told} {measurement.unit}"


def values_in_words(measurements: Sequence[Measurement]) -> str:
    """Values of one measure one after the other, the unit said once.

    >>> from dataclasses import replace
    >>> tilt = Measurement("tilt", "Tilt", "times", "P7", 2.0, 0.1)
    >>> values_in_words([tilt, replace(tilt, value=3.0)])
    '2 → 3 times'
    """
    told = [value_in_words(m) for m in measurements]
    unit = f" {measurements[-1].unit}"
    if all(text.endswith(unit) for text in told):
        told[:-1] = [text.removesuffix(unit) for text in told[:-1]]
    return " → ".join(told)


def measures_of(
    fault: str, view: View, analysis: SwingAnalysis, poses: Poses
) -> tuple[ShownMeasure, ...]:
    """The measures by which a fault is judged from a view, as they are in one swing."""
    taken = {m.name: m for m in analysis.measures}
    names = [c.measure.name for c in CATALOGUE[fault].criteria[view]]
    return tuple(ShownMeasure(taken[n], _mark(n, poses)) for n in names if n in taken)


def region_of(fault: str) -> tuple[Point, ...] | None:
    """The points about which a fault shows, to which its picture is cut; ``None`` for all."""
    return _REGIONS.get(fault)


def without_club(pose: FloatArray) -> FloatArray:
    """A pose without its club, which a picture of the legs would cut."""
    bare = pose.copy()
    bare[[Point[name.upper()] for name in CLUB_POINTS]] = np.nan
    return bare


def draw_mark(parent: Element, mark: Mark) -> None:
    """Draw a mark's lines; its angle is drawn with the other angles."""
    lines(parent, mark.against, stroke=ANGLE, stroke_width=2, stroke_dasharray="3 4")
    lines(parent, mark.own, stroke=PAPER, stroke_width=6.5, stroke_linecap="round")
    lines(parent, mark.own, stroke=ANGLE, stroke_width=3.5, stroke_linecap="round")
    if mark.arrow:
        _draw_head(parent, *mark.own[0])


def angle_of(shown: ShownMeasure) -> SeenAngle | None:
    """The angle of a mark with the measure's value beside it."""
    value = shown.measurement.value
    if shown.mark is None or shown.mark.corner is None or value is None:
        return None
    at, first, second = shown.mark.corner
    start, end = (np.degrees(np.arctan2(-(p - at)[1], (p - at)[0])) for p in (first, second))
    turn = (end - start + 180.0) % 360.0 - 180.0
    return SeenAngle(shown.measurement.title, value, at, float(start), float(start + turn))


def _mark(name: str, poses: Poses) -> Mark | None:
    draw = _MARKS.get(name)
    mark = draw(poses) if draw else None
    if mark is None or not all(_known(*line) for line in (*mark.own, *mark.against)):
        return None
    return mark


def _known(*points: FloatArray) -> bool:
    return all(bool(np.isfinite(p).all()) for p in points)


def _draw_head(parent: Element, start: FloatArray, end: FloatArray) -> None:
    way = end - start
    length = float(np.hypot(*way))
    if length < _HEAD_WIDTH:
        return
    along = way / length
    across = np.array([-along[1], along[0]])
    foot = end - _HEAD_LENGTH * along
    corners = (end + 3.0 * along, foot + _HEAD_WIDTH * across, foot - _HEAD_WIDTH * across)
    add(parent, "polygon", points=" ".join(f"{x:.1f},{y:.1f}" for x, y in corners), fill=ANGLE)


def _hands(pose: FloatArray) -> FloatArray:
    return np.asarray(pose[[Point.LEAD_WRIST, Point.TRAIL_WRIST]].mean(axis=0))


def _chest(pose: FloatArray) -> FloatArray:
    return np.asarray(pose[[Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER]].mean(axis=0))


def _hips(pose: FloatArray) -> FloatArray:
    return np.asarray(pose[[Point.LEAD_HIP, Point.TRAIL_HIP]].mean(axis=0))


def _line(pose: FloatArray, start: Point, end: Point) -> _Line:
    return pose[start], pose[end]


def _onward(start: FloatArray, through: FloatArray, length: float) -> FloatArray:
    """The point that lies a length beyond ``through``, seen from ``start``."""
    way = through - start
    return np.asarray(through + way * length / max(float(np.hypot(*way)), 1e-9))


def _length(line: _Line) -> float:
    return float(np.hypot(*(line[1] - line[0])))


def _arm_rise(poses: Poses) -> Mark:
    shoulder, wrist = _line(poses.now, Point.LEAD_SHOULDER, Point.LEAD_WRIST)
    before = _line(poses.arm_level, Point.LEAD_SHOULDER, Point.LEAD_WRIST)
    was = shoulder + before[1] - before[0]
    return Mark(((shoulder, wrist),), ((shoulder, was),), (shoulder, was, wrist))


def _hand_path(poses: Poses) -> Mark:
    start, end = _hands(poses.arm_level), _hands(poses.now)
    heels = poses.now[[Point.LEAD_HEEL, Point.TRAIL_HEEL], 0].mean()
    toes = poses.now[[Point.LEAD_TOE, Point.TRAIL_TOE], 0].mean()
    # Without feet in the picture, the hands themselves say which way is in.
    inward = heels - toes if np.isfinite(heels - toes) else (end - start)[0]
    level = start + np.array([np.copysign(_REACH, inward), 0.0])
    return Mark(((start, end),), ((start, level),), (start, level, end), arrow=True)


def _arm_to_shoulders(poses: Poses) -> Mark:
    arm = _line(poses.now, Point.LEAD_SHOULDER, Point.LEAD_WRIST)
    line = _line(poses.now, Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)
    far = _onward(line[0], line[1], 0.5 * _REACH)
    return Mark((arm,), ((line[0], far),), (arm[0], far, arm[1]))


def _shoulders_since(earlier: Callable[[Poses], FloatArray]) -> Callable[[Poses], Mark]:
    def mark(poses: Poses) -> Mark:
        now, before = (
            _line(p, Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER) for p in (poses.now, earlier(poses))
        )
        return Mark((now,), (before,))

    return mark


def _face(poses: Poses) -> Mark:
    now, before = (
        (p[[Point.LEAD_EAR, Point.TRAIL_EAR]].mean(axis=0), p[Point.NOSE])
        for p in (poses.now, poses.address)
    )
    return Mark((now,), (before,), arrow=True)


def _shaft_to_shoulder(poses: Poses) -> Mark:
    grip, head = _line(poses.now, Point.LEAD_WRIST, Point.CLUBHEAD)
    shoulder = poses.now[Point.TRAIL_SHOULDER]
    along = (head - grip) / max(_length((grip, head)), 1e-9)
    foot = grip + along * float(np.dot(shoulder - grip, along))
    near, far = _onward(head, foot, _REACH), _onward(grip, head, 0.3 * _REACH)
    return Mark(((shoulder, foot),), ((near, far),), arrow=True)


def _travel(of: Callable[[FloatArray], FloatArray], axis: int) -> Callable[[Poses], Mark]:
    """The way from address along one axis, 0 sideways and 1 up, to where it is now."""

    def mark(poses: Poses) -> Mark:
        before, now = of(poses.address), of(poses.now)
        start, reach = now.copy(), np.zeros(2)
        start[axis] = before[axis]
        reach[1 - axis] = 0.6 * _REACH
        return Mark(((start, now),), ((start - reach, start + reach),), arrow=True)

    return mark


def _elbows(poses: Poses) -> Mark:
    now, before = (
        _line(p, Point.LEAD_ELBOW, Point.TRAIL_ELBOW) for p in (poses.now, poses.address)
    )
    return Mark((now,), (before,))


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
    return Mark(((shoulder, wrist),), ((shoulder, hanging),), (shoulder, hanging, wrist))


def _trunk(poses: Poses) -> Mark:
    hips, chest = _hips(poses.now), _chest(poses.now)
    way = _chest(poses.address) - _hips(poses.address)
    as_long = _length((hips, chest)) / max(float(np.hypot(*way)), 1e-9)
    bent = hips + as_long * way
    return Mark(((hips, chest),), ((hips, bent),), (hips, bent, chest))


def _hips_to_ankle(poses: Poses) -> Mark:
    hips, ankle = _hips(poses.now), poses.now[Point.LEAD_ANKLE]
    above = np.array([ankle[0], hips[1]])
    return Mark(((above, hips),), ((ankle, above - np.array([0.0, 0.6 * _REACH])),), arrow=True)


def _hinge(poses: Poses) -> Mark:
    arm = _line(poses.now, Point.LEAD_WRIST, Point.LEAD_SHOULDER)
    club = _line(poses.now, Point.LEAD_WRIST, Point.CLUBHEAD)
    return Mark((club,), (arm,), (club[0], arm[1], club[1]))


def _of(point: Point) -> Callable[[FloatArray], FloatArray]:
    return lambda pose: pose[point]


_MARKS: Final[Mapping[str, Callable[[Poses], Mark]]] = {
    "hand_path_steepness": _hand_path,
    "lead_arm_above_shoulder_line": _arm_to_shoulders,
    "lead_arm_elevation_gained": _arm_rise,
    "chest_turn_gained": _shoulders_since(lambda poses: poses.arm_level),
    "shaft_offset_from_trail_shoulder": _shaft_to_shoulder,
    "trail_heel_height": _travel(_of(Point.TRAIL_HEEL), axis=1),
    "trail_heel_outward": _travel(_of(Point.TRAIL_HEEL), axis=0),
    "elbow_gap_growth": _elbows,
    "lead_elbow_bend_through": _bend,
    "clubhead_ahead_of_hands": _shaft_to_arm,
    "shoulder_tilt": _tilt,
    "hand_height_at_impact": _travel(_hands, axis=1),
    "trail_knee_travel": _travel(_of(Point.TRAIL_KNEE), axis=0),
    "upper_body_drift": _travel(_chest, axis=0),
    "lead_arm_swing": _arm_swing,
    "chest_turn_through": _shoulders_since(lambda poses: poses.address),
    "head_turn_through": _face,
    "forward_bend_lost": _trunk,
    "pelvis_travel_to_ball": _travel(_hips, axis=0),
    "hips_behind_lead_ankle": _hips_to_ankle,
    "pelvis_travel_to_target": _travel(_hips, axis=0),
    "wrist_hinge_coming_down": _hinge,
}
"""By the measure's name; what has no place in the picture, such as the tempo, has none."""

_FEET: Final = (
    Point.LEAD_ANKLE,
    Point.TRAIL_ANKLE,
    Point.LEAD_HEEL,
    Point.TRAIL_HEEL,
    Point.LEAD_TOE,
    Point.TRAIL_TOE,
)
_KNEES: Final = (Point.LEAD_KNEE, Point.TRAIL_KNEE)
_LEGS: Final = (Point.LEAD_HIP, Point.TRAIL_HIP, *_KNEES, *_FEET)
_SMALL_TOES: Final = (Point.LEAD_SMALL_TOE, Point.TRAIL_SMALL_TOE)
_UPPER: Final = tuple(p for p in Point if p not in (*_KNEES, *_FEET, *_SMALL_TOES))
_TO_KNEES: Final = (*_UPPER, *_KNEES)
_REGIONS: Final[Mapping[str, tuple[Point, ...]]] = {
    "arms_lift_at_top": _UPPER,
    "shaft_steep_at_top": _UPPER,
    "trail_heel_kick": _FEET,
    "elbows_separate": _TO_KNEES,
    "lead_wrist_cup": _TO_KNEES,
    "trail_shoulder_drop": _TO_KNEES,
    "trail_knee_drive": _LEGS,
    "long_backswing": _UPPER,
    "chest_stall": _TO_KNEES,
    "hips_past_lead_foot": _LEGS,
    "wrists_open_early": _UPPER,
}
