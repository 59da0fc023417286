"""A film's own picture of one moment, with the pose drawn over it."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.pose.points import Point
from service.report.clip import Clip
from service.report.drawing.figure import Scene, draw_figure, draw_halo, draw_marks, scene_of
from service.report.drawing.svg import PANEL, add, as_text, picture
from service.report.pictures.poses import sided_poses, stature_of

WIDTH: Final[float] = 360.0
HEIGHT: Final[float] = 440.0


@dataclass(frozen=True)
class Window:
    """The part of a film's picture that something covers, in the unit of the clip's points."""

    left: float
    top: float
    width: float
    height: float


def together(one: Window, other: Window) -> Window:
    """The least window that holds two.

    >>> together(Window(0.0, 0.0, 2.0, 1.0), Window(1.0, -1.0, 3.0, 1.0))
    Window(left=0.0, top=-1.0, width=4.0, height=2.0)
    """
    left, top = min(one.left, other.left), min(one.top, other.top)
    right = max(one.left + one.width, other.left + other.width)
    bottom = max(one.top + one.height, other.top + other.height)
    return Window(left, top, right - left, bottom - top)


@dataclass(frozen=True)
class Photo:
    """A picture as JPEG, and the part of the film's picture that it covers."""

    jpeg: bytes
    window: Window


def still_scene(clip: Clip, frames: Sequence[int]) -> Scene:
    """One scene in which the player fits in each of some frames, so that they can be compared."""
    return scene_of(sided_poses(clip), frames, WIDTH, HEIGHT, stature_of(clip))


def window_of(scene: Scene) -> Window:
    """What a still of this scene shows of the film's picture."""
    left, top = (float(side) for side in scene.corner)
    return Window(left, top, WIDTH / scene.scale, HEIGHT / scene.scale)


def draw_still(
    scene: Scene, frame: int, photo: Photo, title: str, description: str, ringed: Sequence[Point]
) -> str:
    """Draw the pose of a frame over its photograph.

    Parameters
    ----------
    ringed
        Points that a finding rests on; none for a still that shows no finding.

    Returns
    -------
    str
        A self-contained SVG picture, :data:`WIDTH` by :data:`HEIGHT`.
    """
    root = picture(WIDTH, HEIGHT, title, description)
    add(root, "rect", width=WIDTH, height=HEIGHT, fill=PANEL)
    part = photo.window
    x, y = (np.array([part.left, part.top]) - scene.corner) * scene.scale
    add(
        root,
        "image",
        x=x,
        y=y,
        width=part.width * scene.scale,
        height=part.height * scene.scale,
        preserveAspectRatio="none",
        href=f"data:image/jpeg;base64,{base64.b64encode(photo.jpeg).decode()}",
    )
    pose = scene.pose(frame)
    draw_halo(root, pose, scene.head)
    draw_figure(root, pose, scene.head)
    draw_marks(root, pose, ringed)
    return as_text(root)
