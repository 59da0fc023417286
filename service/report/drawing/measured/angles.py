"""Angles drawn into a figure as arcs with their degrees."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import copysign, cos, degrees, radians, sin
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.analysis.pose import geometry
from service.analysis.pose.points import Point
from service.analysis.types import FloatArray, View
from service.languages import sayable
from service.report.drawing.figure import Scene
from service.report.drawing.svg import ANGLE, PAPER, add, lines, text_width, write

_Corner = tuple[FloatArray, FloatArray, FloatArray]
"""The corner, then the directions of the two rays, each of shape (n_frames, 2), y up."""

_RADIUS = 30.0
_RAY = 44.0
_LABEL_HEIGHT = 17.0
_REACHES = (46.0, 54.0, 62.0, 72.0, 84.0)
_ASIDES = (0.0, 15.0, -15.0, 30.0, -30.0, 50.0, -50.0, 75.0, -75.0, 110.0, -110.0, 150.0, -150.0)
"""Distances from an angle's corner and turns off its middle at which its label is tried."""
_TEXT_SIZE = 14
_LEAST_DRAWN = 4.0
"""Degrees below which an arc is no more than a smudge; the angle is still told in words."""
_LEAST_LENGTH = 0.6
"""Share of its length that a limb must show for its angle to be told."""
_UP: Final = np.array([0.0, 1.0])


@dataclass(frozen=True)
class _Angle:
    """An angle in the picture.

    ``corner`` gives its corner and rays from poses of shape (n_frames, n_points, 2), y up.
    ``signed`` ones are from the horizontal, and negative below it.
    """

    title: str
    corner: Callable[[FloatArray], _Corner]
    signed: bool = False


@dataclass(frozen=True)
class _Box:
    """The room of a label, from its upper left to its lower right corner, each of shape (2,)."""

    low: FloatArray
    high: FloatArray

    def holds_any(self, points: FloatArray) -> bool:
        return bool(((points > self.low) & (points < self.high)).all(axis=1).any())

    def touches(self, other: _Box) -> bool:
        return bool((self.low < other.high).all() and (other.low < self.high).all())


@dataclass(frozen=True)
class SeenAngle:
    """An angle as it looks in one frame.

    Attributes
    ----------
    degrees : float
        Its size; from the horizontal it is negative below.
    corner : array of shape (2,)
        Panel coordinates, y down.
    start, end : float
        Directions of its rays in degrees, 0 to the right and 90 up, less than a turn apart.
    text : str
        Its size as it is written beside the arc.
    """

    title: str
    degrees: float
    corner: FloatArray
    start: float
    end: float
    text: str


def angles_of(scene: Scene, frame: int, position: float, view: View) -> list[SeenAngle]:
    """The angles that matter at a position.

    Those with a missing point are left out, and those with a limb that points so much at
    the camera or away that the angle in the picture says little.

    Parameters
    ----------
    scene
        Poses with lead and trail sides told apart.
    frame
        The scene's frame that shows the position.
    """
    seen = (_seen(angle, scene, frame) for angle in _WANTED[view][_landmark(position)])
    return [angle for angle in seen if angle is not None]


def draw_angles(
    parent: Element, angles: Sequence[SeenAngle], room: tuple[float, float], drawn: FloatArray
) -> None:
    """Draw arcs with their degrees where nothing else is; without such a place they are left out.

    Parameters
    ----------
    room
        Width and height within which a label has to stay.
    drawn : array of shape (n, 2)
        Points that no label may cover.
    """
    labels: list[_Box] = []
    for angle in angles:
        if abs(angle.degrees) >= _LEAST_DRAWN:
            _draw_arc(parent, angle)
            box = _free_box(angle, room, drawn, labels)
            if box is not None:
                labels.append(box)
                _write_size(parent, angle, box)


def _landmark(position: float) -> int:
    return min(max(int(position + 0.5), 1), 10)


def _seen(angle: _Angle, scene: Scene, frame: int) -> SeenAngle | None:
    at, *rays = angle.corner(scene.poses * [1.0, -1.0])
    first, second = (np.broadcast_to(ray, at.shape)[frame] for ray in rays)
    turn = float(geometry.turn_between(first, second))
    if not np.isfinite(turn) or any(_foreshortened(ray, frame) for ray in rays):
        return None
    size = copysign(abs(turn), second[1]) if angle.signed else abs(turn)
    start = degrees(np.arctan2(first[1], first[0]))
    corner = (at[frame] * [1.0, -1.0] - scene.corner) * scene.scale
    text = f"{round(size)}°".replace("-", "\N{MINUS SIGN}")
    return SeenAngle(angle.title, size, np.asarray(corner), start, start + turn, text)


def _foreshortened(ray: FloatArray, frame: int) -> bool:
    """Whether a limb looks much shorter than where the clip shows it at its length."""
    lengths = np.hypot(*np.atleast_2d(ray).T)
    return len(lengths) > 1 and bool(lengths[frame] < _LEAST_LENGTH * np.nanquantile(lengths, 0.9))


def _draw_arc(parent: Element, angle: SeenAngle) -> None:
    ends = [_out(angle, at, _RADIUS) for at in (angle.start, angle.end)]
    rays = [(angle.corner, _out(angle, at, _RAY)) for at in (angle.start, angle.end)]
    lines(parent, rays, stroke=ANGLE, stroke_width=1.5, stroke_dasharray="2 3")
    large = 1 if abs(angle.end - angle.start) > 180.0 else 0
    sweep = 0 if angle.end > angle.start else 1
    (x0, y0), (x1, y1) = ends
    d = f"M{x0:.1f} {y0:.1f} A{_RADIUS:g} {_RADIUS:g} 0 {large} {sweep} {x1:.1f} {y1:.1f}"
    add(parent, "path", d=d, fill="none", stroke=ANGLE, stroke_width=2.5)


def _free_box(
    angle: SeenAngle, room: tuple[float, float], drawn: FloatArray, labels: Sequence[_Box]
) -> _Box | None:
    """The nearest place outside the arc's middle at which a label covers nothing."""
    middle = 0.5 * (angle.start + angle.end)
    size = np.array([text_width(angle.text, _TEXT_SIZE, bold=True) + 4.0, _LABEL_HEIGHT])
    for reach in _REACHES:
        for aside in _ASIDES:
            low = np.array(_out(angle, middle + aside, reach)) - size / 2
            box = _Box(low, low + size)
            inside = (low >= 1.0).all() and (box.high <= np.array(room) - 1.0).all()
            if inside and not box.holds_any(drawn) and not any(map(box.touches, labels)):
                return box
    return None


def _write_size(parent: Element, angle: SeenAngle, box: _Box) -> None:
    (x, y), (width, height) = box.low, box.high - box.low
    add(parent, "rect", x=x, y=y, width=width, height=height, rx=4, fill=PAPER, fill_opacity=0.85)
    write(
        parent,
        x + width / 2,
        y + 13.0,
        angle.text,
        font_size=_TEXT_SIZE,
        font_weight="bold",
        fill=ANGLE,
        text_anchor="middle",
    )


def _out(angle: SeenAngle, direction: float, distance: float) -> tuple[float, float]:
    x, y = angle.corner
    return x + distance * cos(radians(direction)), y - distance * sin(radians(direction))


def _trunk(poses: FloatArray) -> _Corner:
    hips, chest = (
        geometry.midpoint(poses[:, lead], poses[:, lead + 1])
        for lead in (Point.LEAD_HIP, Point.LEAD_SHOULDER)
    )
    return hips, _UP, chest - hips


def _bend(near: Point, joint: Point, far: Point) -> Callable[[FloatArray], _Corner]:
    """The bend of a limb: from where it would go on straight to where it goes."""
    return lambda poses: (
        poses[:, joint],
        poses[:, joint] - poses[:, near],
        poses[:, far] - poses[:, joint],
    )


def _from_level(start: Point, end: Point) -> Callable[[FloatArray], _Corner]:
    """From the horizontal to a line, on the side where the line goes."""

    def corner(poses: FloatArray) -> _Corner:
        way = poses[:, end] - poses[:, start]
        level = np.copysign(np.hypot(*way.T), way[:, 0])
        return poses[:, start], np.column_stack([level, np.zeros(len(level))]), way

    return corner


def _lead_arm_to_shaft(poses: FloatArray) -> _Corner:
    wrist = poses[:, Point.LEAD_WRIST]
    return wrist, poses[:, Point.LEAD_ELBOW] - wrist, poses[:, Point.CLUBHEAD] - wrist


_TRUNK: Final = _Angle(sayable("Trunk from the vertical"), _trunk)
_ARM: Final = _Angle(
    sayable("Lead arm from level"), _from_level(Point.LEAD_SHOULDER, Point.LEAD_WRIST), signed=True
)
_SHOULDERS: Final = _Angle(
    sayable("Shoulder tilt"),
    _from_level(Point.TRAIL_SHOULDER, Point.LEAD_SHOULDER),
    signed=True,
)
_LEAD_ELBOW: Final = _Angle(
    sayable("Bend of the lead elbow"),
    _bend(Point.LEAD_SHOULDER, Point.LEAD_ELBOW, Point.LEAD_WRIST),
)
_TRAIL_ELBOW: Final = _Angle(
    sayable("Bend of the trail elbow"),
    _bend(Point.TRAIL_SHOULDER, Point.TRAIL_ELBOW, Point.TRAIL_WRIST),
)
_TRAIL_KNEE: Final = _Angle(
    sayable("Bend of the trail knee"), _bend(Point.TRAIL_HIP, Point.TRAIL_KNEE, Point.TRAIL_ANKLE)
)
_WRIST: Final = _Angle(sayable("Lead arm to shaft"), _lead_arm_to_shaft)

_WANTED: Final[dict[View, dict[int, tuple[_Angle, ...]]]] = {
    View.FACE_ON: {
        1: (_TRUNK, _WRIST),
        2: (_TRUNK, _ARM),
        3: (_ARM, _TRAIL_ELBOW, _WRIST),
        4: (_ARM, _TRAIL_ELBOW, _TRUNK),
        5: (_ARM, _SHOULDERS, _WRIST),
        6: (_SHOULDERS, _WRIST),
        7: (_SHOULDERS, _LEAD_ELBOW, _WRIST),
        8: (_LEAD_ELBOW, _TRAIL_ELBOW, _WRIST),
        9: (_LEAD_ELBOW, _TRUNK),
        10: (_TRUNK,),
    },
    View.DOWN_THE_LINE: {
        1: (_TRUNK, _TRAIL_KNEE, _WRIST),
        2: (_TRUNK, _ARM),
        3: (_TRUNK, _ARM, _TRAIL_ELBOW),
        4: (_TRUNK, _ARM, _TRAIL_ELBOW),
        5: (_TRUNK, _ARM, _TRAIL_KNEE),
        6: (_TRUNK, _TRAIL_KNEE),
        7: (_TRUNK, _TRAIL_KNEE),
        8: (_TRUNK, _TRAIL_KNEE),
        9: (_TRUNK,),
        10: (_TRUNK,),
    },
}
"""What a coach looks at there (common practice)."""
