"""Lines, angles and paths of body and club that measures are made of.

Each reads a :class:`~service.analysis.events.normalized.NormalizedSwing` and gives an array of
shape (n_rows, n_grid), or (n_rows, n_grid, 2) for a path; NaN where a point is missing.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Final

import numpy as np

from service.analysis.events.normalized import NormalizedSwing
from service.analysis.measures.definition import high, placewise
from service.analysis.pose import geometry
from service.analysis.pose.points import Point
from service.analysis.types import BoolArray, FloatArray, View

LEAD_ARM: Final = (Point.LEAD_SHOULDER, Point.LEAD_ELBOW, Point.LEAD_WRIST)
TRAIL_ARM: Final = (Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW, Point.TRAIL_WRIST)
SHOULDERS: Final = (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER)
HIPS: Final = (Point.LEAD_HIP, Point.TRAIL_HIP)
WRISTS: Final = (Point.LEAD_WRIST, Point.TRAIL_WRIST)

_NOSE_DEPTH: Final[float] = 0.75
"""How far the nose stands before the line of the ears, in distances between the ears; head
dimensions from memory."""
_FARTHEST_TURN: Final[float] = 120.0
"""Degrees from facing the camera beyond which no head turns in a swing: the ears were taken for one
another. A judgement: a neck turns some 80 degrees, and the trunk under it up to 40 more by P9."""


Line = Callable[[NormalizedSwing], FloatArray]


def _once(line: Line) -> Line:
    """A line that several measures look at, worked out once a swing."""

    @wraps(line)
    def remembered(swing: NormalizedSwing) -> FloatArray:
        if line not in swing.lines:
            swing.lines[line] = line(swing)
        return swing.lines[line]

    return remembered


def mid_shoulders(swing: NormalizedSwing) -> FloatArray:
    """Middle of the shoulders, shape (n_rows, n_grid, 2)."""
    return geometry.midpoint(swing.point(Point.LEAD_SHOULDER), swing.point(Point.TRAIL_SHOULDER))


def mid_hips(swing: NormalizedSwing) -> FloatArray:
    """Middle of the hips, shape (n_rows, n_grid, 2)."""
    return geometry.midpoint(swing.point(Point.LEAD_HIP), swing.point(Point.TRAIL_HIP))


def hands(swing: NormalizedSwing) -> FloatArray:
    """Middle of the wrists, shape (n_rows, n_grid, 2)."""
    return geometry.midpoint(swing.point(Point.LEAD_WRIST), swing.point(Point.TRAIL_WRIST))


def shaft(swing: NormalizedSwing) -> tuple[FloatArray, FloatArray]:
    """Grip and clubhead ends of the shaft, each of shape (n_rows, n_grid, 2).

    The lead wrist, which holds the grip, stands in where the grip itself is not given.
    """
    butt = swing.point(Point.GRIP)
    for other in (Point.GRIP_END, Point.LEAD_WRIST):
        butt = np.where(np.isnan(butt), swing.point(other), butt)
    return butt, swing.point(Point.CLUBHEAD)


@_once
def lead_arm_elevation(swing: NormalizedSwing) -> FloatArray:
    """Elevation of the lead arm above the horizontal in degrees, the same from either view.

    The sine of a segment's elevation is its rise over its length; its length is taken
    from the frames in which it lies most nearly across the line of sight.
    """
    shoulder, wrist = swing.point(Point.LEAD_SHOULDER), swing.point(Point.LEAD_WRIST)
    seen_length = geometry.distance(shoulder, wrist)
    length = high(seen_length)
    rise = (wrist - shoulder)[..., 1] / np.maximum(length, seen_length)
    return np.asarray(np.degrees(np.arcsin(rise)))


def turn_from_width(swing: NormalizedSwing, lead: Point, trail: Point) -> FloatArray:
    """Turn of a body line away from square in degrees, from how narrow it looks face-on.

    A level line of width w looks w cos(turn) wide; of a line that also tilts, only the
    part left level by the tilt, sqrt(w^2 - rise^2), narrows with the turn. The full width
    is the one at address, the first place shown. Past 90 degrees the ends of the line have changed
    places in the picture, and the turn goes on growing. It says how far, not which way, and is
    coarse below 30 degrees.
    """
    line = swing.point(lead) - swing.point(trail)
    at_address = line[:, :1]
    full = np.hypot(at_address[..., 0], at_address[..., 1])
    level = np.sqrt(np.maximum(full**2 - line[..., 1] ** 2, 1e-9))
    narrow = np.sign(at_address[..., 0]) * line[..., 0] / level
    # A line that noise makes wider than it is may be as much narrower: so little is known of small
    # turns, and the samples that tell the uncertainty must show it.
    wider = swing.drawn[:, None] & (narrow > 1.0)
    narrow = np.where(wider, 2.0 - narrow, narrow)
    return np.asarray(np.degrees(np.arccos(np.minimum(np.maximum(narrow, -1.0), 1.0))))


@placewise
def chest_turn(swing: NormalizedSwing) -> FloatArray:
    """Turn of the shoulder line in degrees (see :func:`turn_from_width`)."""
    return turn_from_width(swing, *SHOULDERS)


@placewise
def pelvis_turn(swing: NormalizedSwing) -> FloatArray:
    """Turn of the hip line in degrees (see :func:`turn_from_width`)."""
    return turn_from_width(swing, Point.LEAD_HIP, Point.TRAIL_HIP)


@placewise
def head_turn(swing: NormalizedSwing) -> FloatArray:
    """Turn of the head toward the target in degrees, face-on.

    The nose stands before the line of the ears, so its sideways offset is to that depth
    (:data:`_NOSE_DEPTH`) as the sine of the turn is to one, and the ears' distance in the
    picture gives the cosine. NaN where the best estimate lies beyond :data:`_FARTHEST_TURN`; noise
    may draw it there, which only makes it less sure.
    """
    lead, trail = swing.point(Point.LEAD_EAR), swing.point(Point.TRAIL_EAR)
    nose = swing.point(Point.NOSE)
    sine = (nose - geometry.midpoint(lead, trail))[..., 0] / _NOSE_DEPTH
    cosine = (lead - trail)[..., 0]
    turn = np.degrees(np.arctan2(sine, cosine))
    backward = (np.abs(turn) > _FARTHEST_TURN) & ~swing.drawn[:, None]
    return np.where(backward, np.nan, turn)


SHORTEST_SHAFT: Final[float] = 0.10
"""Body heights the shaft must measure in the picture for its direction to mean anything."""


@placewise
def wrist_angle(swing: NormalizedSwing) -> FloatArray:
    """Angle between the lead forearm and the shaft, 180 when they are in one line; NaN where the
    shaft points along the line of sight."""
    _, clubhead = shaft(swing)
    angle = geometry.joint_angle(
        swing.point(Point.LEAD_ELBOW), swing.point(Point.LEAD_WRIST), clubhead
    )
    return np.where(shaft_foreshortened(swing), np.nan, angle)


def wrist_hinge(swing: NormalizedSwing) -> FloatArray:
    """Angle in space between the lead arm and the shaft in degrees, 180 when they are in one line.

    What the picture shows of the two is taken against their full lengths, which it shows where
    they lie across the line of sight: halfway down the shaft points away from the camera, looks
    short, and the angle as it looks is up to some 40 degrees too wide or too narrow. Close where
    the arm lies across the line of sight, as at P5 face-on; what both have along it is left out:
    there the angle in space is 2 to 15 degrees wider in the middle, by make of golfer, and 12 in
    the one captured player whose club is known.
    """
    wrist = swing.point(Point.LEAD_WRIST)
    arm, club = swing.point(Point.LEAD_SHOULDER) - wrist, swing.point(Point.CLUBHEAD) - wrist
    full = high(np.hypot(arm[..., 0], arm[..., 1])) * high(np.hypot(club[..., 0], club[..., 1]))
    cosine = np.sum(arm * club, axis=-1) / full
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


@placewise
def shaft_direction(swing: NormalizedSwing) -> FloatArray:
    """Direction from grip to clubhead in degrees; NaN where it points along the line of sight."""
    return np.where(shaft_foreshortened(swing), np.nan, geometry.direction(*shaft(swing)))


def shaft_foreshortened(swing: NormalizedSwing) -> BoolArray:
    """Where the shaft looks too short to have a direction, shape (n_rows, n_grid)."""
    return np.asarray(geometry.distance(*shaft(swing)) < SHORTEST_SHAFT)


def _flexion(
    shoulder: Point, elbow: Point, wrist: Point
) -> Callable[[NormalizedSwing], FloatArray]:
    return placewise(
        lambda swing: geometry.flexion(
            swing.point(shoulder), swing.point(elbow), swing.point(wrist)
        )
    )


lead_elbow_flexion = _flexion(*LEAD_ARM)
trail_elbow_flexion = _flexion(*TRAIL_ARM)


@placewise
def trunk_lean(swing: NormalizedSwing) -> FloatArray:
    """Lean of the trunk from the vertical in degrees: toward the ball down the line (the
    spine's bend from the hips), away from the target face-on (its side bend)."""
    trunk = mid_shoulders(swing) - mid_hips(swing)
    lean = np.degrees(np.arctan2(trunk[..., 0], trunk[..., 1]))
    return np.asarray(lean if swing.view is View.DOWN_THE_LINE else -lean)
