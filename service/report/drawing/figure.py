"""A player's pose as a stick figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.analysis.pose.points import Point
from service.analysis.types import FloatArray
from service.report.drawing.svg import (
    FAINT,
    INK,
    LEAD,
    MARK,
    MUTED,
    PANEL,
    PAPER,
    TRAIL,
    Style,
    add,
    lines,
)

LEAD_LINE: Final[Style] = {"stroke": LEAD, "stroke_width": 4.5, "stroke_linecap": "round"}
TRAIL_LINE: Final[Style] = {"stroke": TRAIL, "stroke_width": 4.5, "stroke_dasharray": "9 5"}
_HALO_LINE: Final[Style] = {"stroke": PAPER, "stroke_width": 9, "stroke_linecap": "round"}
SHADOW_LINE: Final[Style] = {"stroke": FAINT, "stroke_width": 3, "stroke_linecap": "round"}
RING: Final[Style] = {"r": 9, "fill": "none", "stroke": MARK, "stroke_width": 2.5}

_Ends = tuple[FloatArray, FloatArray]
_Bones = tuple[tuple[Point, Point], ...]

_LEAD_BONES: Final[_Bones] = (
    (Point.LEAD_SHOULDER, Point.LEAD_ELBOW),
    (Point.LEAD_ELBOW, Point.LEAD_WRIST),
    (Point.LEAD_WRIST, Point.LEAD_HAND),
    (Point.LEAD_HIP, Point.LEAD_KNEE),
    (Point.LEAD_KNEE, Point.LEAD_ANKLE),
    (Point.LEAD_ANKLE, Point.LEAD_HEEL),
    (Point.LEAD_ANKLE, Point.LEAD_TOE),
    (Point.LEAD_HEEL, Point.LEAD_TOE),
)
# Every lead point is followed by its trail fellow.
_TRAIL_BONES: Final[_Bones] = tuple((Point(a + 1), Point(b + 1)) for a, b in _LEAD_BONES)
LEAD_POINTS: Final = tuple(sorted({point for bone in _LEAD_BONES for point in bone}))
TRAIL_POINTS: Final = tuple(sorted({point for bone in _TRAIL_BONES for point in bone}))
_FEET: Final = (
    ((Point.LEAD_ANKLE, Point.LEAD_HEEL, Point.LEAD_TOE), LEAD),
    ((Point.TRAIL_ANKLE, Point.TRAIL_HEEL, Point.TRAIL_TOE), TRAIL),
)
_ACROSS: Final[_Bones] = (
    (Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER),
    (Point.LEAD_HIP, Point.TRAIL_HIP),
)
_HEAD: Final = (
    Point.HEAD,
    Point.NOSE,
    Point.LEAD_EYE,
    Point.TRAIL_EYE,
    Point.LEAD_EAR,
    Point.TRAIL_EAR,
)
_BUTT: Final = (Point.GRIP_END, Point.GRIP, Point.LEAD_WRIST)
HEAD_RADIUS: Final[float] = 0.06
"""Half the height of a head without its neck, in body heights; from memory."""
_CLOSE = 5.0
_FARTHEST = 1.6
"""Body heights from its middle beyond which a point is an outlier and not part of the figure."""


@dataclass(frozen=True)
class Scene:
    """The poses of a clip, and where their part of the image goes in a panel.

    Attributes
    ----------
    poses : array of shape (n_frames, n_points, 2)
        Image coordinates, y down, in the order of :class:`service.analysis.pose.points.Point`.
    corner : array of shape (2,)
        Image coordinates of the panel's upper left corner.
    scale : float
        Panel units for one of the image's.
    head : float
        Radius of the head in panel units.
    """

    poses: FloatArray
    corner: FloatArray
    scale: float
    head: float

    @property
    def has_club(self) -> bool:
        """Whether the clubhead is seen in any frame."""
        return bool(np.isfinite(self.poses[:, Point.CLUBHEAD]).any())

    def pose(self, frame: int) -> FloatArray:
        """One pose in panel coordinates, shape (n_points, 2)."""
        return np.asarray((self.poses[frame] - self.corner) * self.scale)


def scene_of(
    poses: FloatArray,
    frames: Sequence[int],
    width: float,
    height: float,
    stature: float,
) -> Scene:
    """One scene in which all of some frames fit, so that panels can be compared.

    Points far off are taken for outliers and may fall outside.

    Parameters
    ----------
    poses : array of shape (n_frames, n_points, 2)
        As in :class:`Scene`; at least one limb is seen in some frame, not necessarily in these.
    width, height
        Of a panel.
    stature
        The body's height in the poses' unit.
    """
    shown = poses[list(frames)]
    if np.isnan(shown).all():
        shown = poses
    middle = np.nanmedian(shown, axis=(0, 1))
    near = shown[np.hypot(*np.moveaxis(shown - middle, -1, 0)) < _FARTHEST * stature]
    margin = 1.5 * HEAD_RADIUS * stature
    low, high = near.min(axis=0) - margin, near.max(axis=0) + margin
    room = np.array([width, height])
    scale = float(min(room / (high - low)))
    return Scene(poses, (low + high - room / scale) / 2, scale, HEAD_RADIUS * stature * scale)


def draw_figure(parent: Element, pose: FloatArray, head_radius: float) -> None:
    """Draw a pose of shape (n_points, 2) in panel coordinates; missing points are left out."""
    spine = [_middle(pose, bone) for bone in _ACROSS]
    across = [*_seen(pose, _ACROSS), *_known_pairs([(spine[0], spine[1])])]
    lines(parent, across, stroke=MUTED, stroke_width=4, stroke_linecap="round")
    _draw_head(parent, pose, head_radius, {"stroke": MUTED, "stroke_width": 4})
    _draw_soles(parent, pose)
    lines(parent, _seen(pose, _TRAIL_BONES), TRAIL_LINE)
    lines(parent, _seen(pose, _LEAD_BONES), LEAD_LINE)
    _draw_joints(parent, pose, _LEAD_BONES, LEAD, LEAD)
    _draw_joints(parent, pose, _TRAIL_BONES, PANEL, TRAIL)
    _draw_club(parent, pose)


def draw_shadow(parent: Element, pose: FloatArray) -> None:
    """Draw a pose, as for :func:`draw_figure`, faintly: what another one is compared with."""
    bones = _seen(pose, (*_LEAD_BONES, *_TRAIL_BONES, *_ACROSS))
    lines(parent, bones, SHADOW_LINE)


def _draw_soles(parent: Element, pose: FloatArray) -> None:
    """Feet filled, so that they are seen for what they are where only legs are shown."""
    for foot, colour in _FEET:
        corners = pose[list(foot)]
        if np.isfinite(corners).all():
            path = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
            add(parent, "polygon", points=path, fill=colour, fill_opacity=0.25)


def draw_halo(parent: Element, pose: FloatArray, head_radius: float) -> None:
    """Lay a pale band under a pose that is drawn over a photograph; parameters as for
    :func:`draw_figure`."""
    _draw_head(parent, pose, head_radius, {**_HALO_LINE, "opacity": "0.6"})
    bones = _seen(pose, (*_LEAD_BONES, *_TRAIL_BONES, *_ACROSS))
    spine = _known_pairs([(_middle(pose, _ACROSS[0]), _middle(pose, _ACROSS[1]))])
    club = _known_pairs([_club_ends(pose)])
    lines(parent, [*bones, *spine, *club], _HALO_LINE, opacity="0.6")


def draw_marks(parent: Element, pose: FloatArray, points: Sequence[Point]) -> None:
    """Ring the points that a finding rests on, in a pose as for :func:`draw_figure`; missing ones
    get none."""
    for point in points:
        if _known(pose[point]):
            x, y = pose[point]
            add(parent, "circle", None, RING, cx=x, cy=y)


def drawn_points(pose: FloatArray, head_radius: float) -> FloatArray:
    """Points all along what :func:`draw_figure` draws, close together, shape (n, 2)."""
    bones = _seen(pose, (*_LEAD_BONES, *_TRAIL_BONES, *_ACROSS))
    bones += _known_pairs([_club_ends(pose)])
    spine = [_middle(pose, bone) for bone in _ACROSS]
    bones += _known_pairs([(spine[0], spine[1])])
    along = [points_along(*bone) for bone in bones]
    seen = pose[list(_HEAD)]
    seen = seen[np.isfinite(seen).all(axis=1)]
    if len(seen):
        round_it = np.linspace(0.0, 2.0 * np.pi, 24)
        circle = head_radius * np.column_stack([np.cos(round_it), np.sin(round_it)])
        along.append(seen.mean(axis=0) + circle)
    return np.concatenate(along) if along else np.empty((0, 2))


def points_along(start: FloatArray, end: FloatArray) -> FloatArray:
    """Points from one end of a line to the other, close together, shape (n, 2)."""
    count = max(2, int(np.hypot(*(end - start)) / _CLOSE) + 1)
    return np.linspace(start, end, count)


def _draw_head(parent: Element, pose: FloatArray, radius: float, style: Style) -> None:
    seen = pose[list(_HEAD)]
    seen = seen[np.isfinite(seen).all(axis=1)]
    if len(seen):
        x, y = seen.mean(axis=0)
        add(parent, "circle", None, style, cx=x, cy=y, r=radius, fill="none")


def _draw_joints(parent: Element, pose: FloatArray, bones: _Bones, fill: str, stroke: str) -> None:
    for point in sorted({p for bone in bones for p in bone}):
        if _known(pose[point]):
            x, y = pose[point]
            add(parent, "circle", cx=x, cy=y, r=3.5, fill=fill, stroke=stroke, stroke_width=2)


def _draw_club(parent: Element, pose: FloatArray) -> None:
    for butt, head in _known_pairs([_club_ends(pose)]):
        draw_club(parent, butt, head)


def _club_ends(pose: FloatArray) -> _Ends:
    """Where the club begins, as far as it is known, and its head; NaN where missing."""
    butts = [pose[p] for p in _BUTT if _known(pose[p])]
    return (butts[0] if butts else pose[_BUTT[0]]), pose[Point.CLUBHEAD]


def draw_club(parent: Element, butt: FloatArray, head: FloatArray) -> None:
    """Draw a club from the end of its grip to its head, each (x, y) in panel coordinates."""
    lines(parent, [(butt, head)], stroke=INK, stroke_width=2)
    add(parent, "rect", x=head[0] - 4.5, y=head[1] - 4.5, width=9, height=9, fill=INK)


def _seen(pose: FloatArray, bones: _Bones) -> list[_Ends]:
    return _known_pairs([(pose[a], pose[b]) for a, b in bones])


def _known_pairs(pairs: Sequence[_Ends]) -> list[_Ends]:
    return [(a, b) for a, b in pairs if _known(a) and _known(b)]


def _middle(pose: FloatArray, bone: tuple[Point, Point]) -> FloatArray:
    return np.asarray(pose[list(bone)].mean(axis=0))


def _known(point: FloatArray) -> bool:
    return bool(np.isfinite(point).all())
