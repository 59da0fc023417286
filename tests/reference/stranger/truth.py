"""What is true of the golfer's swing by the catalogue's words, measured in space by own code.

Where the words say "in the picture" it is measured seen straight along the line of sight; what they
say of a line about the vertical, of a joint or of a height is measured in space; so is the angle
between lead arm and shaft, of which the service leaves out what both have along the line of sight
and says so. Lengths in percent
of stature, angles in degrees; P1 to P10 and the hands' way between them as they truly are.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import BoolArray, FloatArray, View
from tests.reference.stranger.golfer import Swing

_SIDES = {View.FACE_ON: (0, 1), View.DOWN_THE_LINE: (2, 1)}
_SHOULDERS = (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)
_HIPS = (Point.LEAD_HIP, Point.TRAIL_HIP)
_WRISTS = (Point.LEAD_WRIST, Point.TRAIL_WRIST)
_LEAD_ARM = (Point.LEAD_SHOULDER, Point.LEAD_ELBOW, Point.LEAD_WRIST)
_TRAIL_ARM = (Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW, Point.TRAIL_WRIST)


def truth_of(swing: Swing, view: View) -> dict[str, float]:
    """Measures by the catalogue's names, of those that this golfer has a truth for."""
    seen = Seen(swing, view)
    told = _everywhere(seen)
    if view is View.FACE_ON:
        return {**told, **_turns(seen), **_face_on(seen), **_wrists(seen)}
    return {**told, **_down_the_line(seen)}


@dataclass(frozen=True)
class Seen:
    """A swing over its own position coordinate."""

    swing: Swing
    view: View

    @cached_property
    def coordinate(self) -> FloatArray:
        """Position coordinate at the clock's times, by the way of the hands between positions; NaN
        before P1 and after P10."""
        times, found = self.swing.clock.times, self.swing.position_times
        steps = np.linalg.norm(np.diff(self.middle(_WRISTS), axis=0), axis=-1)
        way = np.concatenate([[0.0], np.cumsum(steps)])
        knots = np.interp(found, times, way)
        inside = (times >= found[0]) & (times <= found[9])
        return np.where(inside, np.interp(way, knots, np.arange(1.0, 11.0)), np.nan)

    def joint(self, point: Point) -> FloatArray:
        """One joint in space, (n, 3)."""
        return self.swing.space[:, point]

    def middle(self, points: tuple[Point, Point]) -> FloatArray:
        """The middle of two joints, (n, 3)."""
        return np.asarray(0.5 * (self.joint(points[0]) + self.joint(points[1])))

    def line(self, start: Point, end: Point) -> FloatArray:
        """From one joint to another, (n, 3)."""
        return np.asarray(self.joint(end) - self.joint(start))

    def picture(self, vectors: FloatArray) -> FloatArray:
        """What is seen of vectors (n, 3): (n, 2), to the target or the ball, and up."""
        return vectors[:, list(_SIDES[self.view])]

    def at(self, curve: FloatArray, position: int) -> float:
        """A curve (n,) at a position."""
        time = self.swing.position_times[position - 1]
        return float(np.interp(time, self.swing.clock.times, curve))

    def gained(self, curve: FloatArray, position: int) -> float:
        """A curve at a position against P1."""
        return self.at(curve, position) - self.at(curve, 1)

    def during(self, first: float, last: float) -> BoolArray:
        """Where the position coordinate is between two values."""
        return (self.coordinate >= first) & (self.coordinate <= last)


def elevation(vectors: FloatArray) -> FloatArray:
    """Angle of vectors (n, 3) above the ground."""
    return np.degrees(np.arcsin(vectors[:, 1] / np.linalg.norm(vectors, axis=-1)))


def bend(first: FloatArray, second: FloatArray) -> FloatArray:
    """Angle between vectors of shape (n, 2) or (n, 3); 0 where they are in one line."""
    cosine = np.sum(first * second, axis=-1)
    cosine /= np.linalg.norm(first, axis=-1) * np.linalg.norm(second, axis=-1)
    return np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))


def azimuth(vectors: FloatArray, address: FloatArray) -> FloatArray:
    """Turn of lines (n, 3) about the vertical against that at address, away from the target."""
    turn = np.unwrap(np.arctan2(vectors[:, 2], vectors[:, 0]))
    return np.degrees(turn - np.arctan2(address[2], address[0]))


def _everywhere(seen: Seen) -> dict[str, float]:
    times = seen.swing.position_times
    back, down = times[3] - times[0], times[6] - times[3]
    heel = seen.joint(Point.TRAIL_HEEL)[:, 1]
    trunk = seen.picture(seen.middle(_SHOULDERS) - seen.middle(_HIPS))
    away = -1.0 if seen.view is View.FACE_ON else 1.0
    lean = np.degrees(np.arctan2(away * trunk[:, 0], trunk[:, 1]))
    lead, trail = _elbow(seen, _LEAD_ARM), _elbow(seen, _TRAIL_ARM)
    return {
        "tempo_ratio": back / down,
        "backswing_time": back,
        "downswing_time": down,
        "hand_height_at_impact": 100.0 * seen.gained(seen.middle(_WRISTS)[:, 1], 7),
        "trail_heel_height": 100.0 * (heel[seen.during(5, 7)].max() - seen.at(heel, 1)),
        "lead_arm_elevation_p4": seen.at(elevation(_lead_arm(seen)), 4),
        **{f"trunk_lean_p{p}": seen.at(lean, p) for p in (1, 4, 7)},
        **{f"lead_elbow_flexion_p{p}": seen.at(lead, p) for p in (4, 7, 8)},
        **{f"trail_elbow_flexion_p{p}": seen.at(trail, p) for p in (4, 7, 8)},
    }


def _turns(seen: Seen) -> dict[str, float]:
    told = dict[str, float]()
    for name, (lead, trail) in {"chest": _SHOULDERS, "pelvis": _HIPS}.items():
        line = seen.line(trail, lead)
        address = np.array([seen.at(line[:, axis], 1) for axis in range(3)])
        turn = azimuth(line, address)
        told |= {f"{name}_turn_p{p}": abs(seen.at(turn, p)) for p in (4, 7, 9)}
        if name == "chest":
            told["chest_turn_gained"] = seen.at(turn, 4) - seen.at(turn, 3)
            told["chest_turn_through"] = float(-turn[seen.during(8.5, 9)].min())
    face = seen.swing.face
    turn = np.degrees(np.arctan2(face[:, 0], face[:, 2]))
    told |= {f"head_turn_p{p}": seen.at(turn, p) for p in (4, 7, 9)}
    told["head_turn_through"] = float(turn[seen.during(8.5, 9)].max())
    return told


def _face_on(seen: Seen) -> dict[str, float]:
    arm = _lead_arm(seen)
    swung = np.degrees(np.arctan2(-arm[:, 0], -arm[:, 1]))
    shoulders, hips = seen.middle(_SHOULDERS)[:, 0], seen.middle(_HIPS)[:, 0]
    heel = seen.joint(Point.TRAIL_HEEL)[:, 0]
    apart = seen.picture(seen.line(Point.TRAIL_ELBOW, Point.LEAD_ELBOW))
    gap = np.linalg.norm(apart, axis=-1)
    through, early = seen.during(7.5, 8.5), seen.during(2, 4)
    ankle = seen.at(seen.joint(Point.LEAD_ANKLE)[:, 0], 1)
    tilt = elevation(seen.line(Point.TRAIL_SHOULDER, Point.LEAD_SHOULDER))
    return {
        "lead_arm_elevation_gained": seen.at(elevation(arm), 4),
        "lead_arm_swing": seen.at(np.where(swung < -90.0, swung + 360.0, swung), 4),
        "elbow_gap_growth": 100.0 * (gap[through].max() - seen.at(gap, 1)),
        "lead_elbow_bend_through": float(_elbow(seen, _LEAD_ARM)[through].max()),
        "trail_heel_outward": 100.0 * (seen.at(heel, 1) - heel[seen.during(5, 7)].min()),
        "hips_behind_lead_ankle": 100.0 * (ankle - seen.at(hips, 7)),
        "pelvis_travel_to_target": 100.0 * seen.gained(hips, 7),
        "shoulder_tilt": float(tilt[seen.during(6, 7)].max()),
        "upper_body_drift": 100.0 * (seen.at(shoulders, 1) - shoulders[early].min()),
    }


def _wrists(seen: Seen) -> dict[str, float]:
    arm, club = _lead_arm(seen), seen.line(Point.LEAD_WRIST, Point.CLUBHEAD)
    hinge = 180.0 - bend(arm, club)
    across, along = seen.picture(arm), seen.picture(club)
    square = across[:, 0] * along[:, 1] - across[:, 1] * along[:, 0]
    ahead = np.degrees(np.arctan2(square, np.sum(across * along, axis=-1)))
    return {
        "wrist_hinge_coming_down": seen.at(hinge, 5),
        "wrist_hinge_opened": seen.at(hinge, 5) - seen.at(hinge, 4),
        "clubhead_ahead_of_hands": float(ahead[seen.during(7.5, 8)].max()),
    }


def _down_the_line(seen: Seen) -> dict[str, float]:
    told = _everywhere(seen)
    hips, heel = seen.middle(_HIPS)[:, 2], seen.joint(Point.TRAIL_HEEL)[:, 2]
    knee = seen.joint(Point.TRAIL_KNEE)[:, 2]
    hands = seen.picture(seen.middle(_WRISTS))
    inward = seen.at(hands[:, 0], 3) - seen.at(hands[:, 0], 4)
    upward = seen.at(hands[:, 1], 4) - seen.at(hands[:, 1], 3)
    arm, shoulders = _lead_arm(seen), seen.line(Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)
    steeper = _steepness(seen, arm) - _steepness(seen, shoulders)
    return {
        "forward_bend_lost": told["trunk_lean_p1"] - told["trunk_lean_p7"],
        "pelvis_travel_to_ball": 100.0 * (hips[seen.during(6, 7)].mean() - seen.at(hips, 1)),
        "trail_knee_travel": 100.0 * (knee[seen.during(5, 6)].max() - seen.at(knee, 1)),
        "trail_heel_outward": 100.0 * (heel[seen.during(5, 7)].max() - seen.at(heel, 1)),
        "hand_path_steepness": float(np.degrees(np.arctan2(upward, inward))),
        "lead_arm_above_shoulder_line": seen.at(steeper, 4),
        "shaft_offset_from_trail_shoulder": _shaft_offset(seen),
    }


def _shaft_offset(seen: Seen) -> float:
    """Of the line of the shaft above the trail shoulder, in upper arms; a quarter of the hands' way
    is long, so that the mean is over that way and not over time."""
    shaft = seen.picture(seen.line(Point.GRIP, Point.CLUBHEAD))
    away = seen.picture(seen.line(Point.TRAIL_SHOULDER, Point.GRIP))
    square = away[:, 0] * shaft[:, 1] - away[:, 1] * shaft[:, 0]
    offset = square / np.linalg.norm(shaft, axis=-1) / seen.swing.golfer.upper_arm
    last = seen.during(4.75, 5)
    even = np.linspace(4.75, 5.0, 26)
    return float(np.interp(even, seen.coordinate[last], offset[last]).mean())


def _lead_arm(seen: Seen) -> FloatArray:
    return seen.line(Point.LEAD_SHOULDER, Point.LEAD_WRIST)


def _steepness(seen: Seen, vectors: FloatArray) -> FloatArray:
    """How steeply lines go up as they look, be it to the ball or away from it."""
    across, up = seen.picture(vectors).T
    return np.degrees(np.arctan2(up, np.abs(across)))


def _elbow(seen: Seen, arm: tuple[Point, Point, Point]) -> FloatArray:
    """Bend of an elbow as it looks in the picture."""
    upper, fore = (seen.picture(seen.line(a, b)) for a, b in pairwise(arm))
    return bend(upper, fore)
