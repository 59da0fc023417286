"""A coach's own key: the frame of its position with what the coach drew over it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import atan2, cos, pi, sin
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.analysis.types import FloatArray
from service.lessons.coach.edits import OwnKey, Shape, ShapeKind
from service.lessons.words.wording import IN_ENGLISH, Wording, sentence
from service.report.clip import Clip
from service.report.drawing.figure import Scene, draw_figure, scene_of
from service.report.drawing.legend import draw_legend, samples_of
from service.report.drawing.svg import (
    ANGLE,
    MARK,
    PANEL,
    PAPER,
    Style,
    add,
    as_text,
    lines,
    picture,
    shift,
    text_width,
    write,
)
from service.report.pictures.poses import about_the_feet, frame_of

_WIDTH, _HEIGHT = 420.0, 330.0
_MARGIN, _HEAD, _LEGEND = 12.0, 32.0, 28.0
_ROOM: Final[float] = 0.06
"""Body heights about what is drawn."""
_ARC: Final[float] = 0.4
"""Radius of an angle's arc over the length of its shorter side."""
_LABEL, _LINE = 13.0, 17.0
_HALO: Final[Style] = {"paint_order": "stroke", "stroke": PAPER, "stroke_width": 4}
_LABEL_STYLE: Final[Style] = {
    "font_size": _LABEL,
    "font_weight": "bold",
    "fill": MARK,
    "text_anchor": "middle",
}
_STROKE: Final[Style] = {"stroke": MARK, "stroke_width": 3.5, "stroke_linecap": "round"}


def draw_own_key(clip: Clip, key: OwnKey, wording: Wording = IN_ENGLISH) -> str:
    """Draw the frame of a key's position, and over it what the coach drew.

    The pose is drawn as it was sent. Shapes stand in the picture where the coach put them, in
    body heights from the feet; the picture grows so that all of them are in it.

    Returns
    -------
    str
        A self-contained SVG picture, 420 wide.

    Raises
    ------
    PositionNotShown
        When the swing doesn't show the position.
    """
    frame = frame_of(clip.analysis, float(key.position))
    width = _WIDTH - 2 * _MARGIN
    scene = _with_room(_scene(clip, frame, width), key.drawing, width)
    heading = sentence(wording.place(float(key.position)))
    drawn = wording.say("What your coach drew")
    labels = [shape.label for shape in key.drawing if shape.label]
    told = f"{heading}. {'; '.join(labels) or drawn}."
    root = picture(_WIDTH, _HEAD + _HEIGHT + _LEGEND + 8, f"{key.title}: {heading}", told)
    write(root, _MARGIN, 22, f"P{key.position}", font_size=15, font_weight="bold")
    figure = add(root, "svg", x=_MARGIN, y=_HEAD, width=width, height=_HEIGHT)
    add(figure, "rect", width=width, height=_HEIGHT, fill=PANEL)
    draw_figure(figure, scene.pose(frame), scene.head)
    for shape in key.drawing:
        _draw(figure, shape, scene)
    _write_labels(figure, key.drawing, scene, width)
    legend = add(root, "g", transform=shift(_MARGIN, _HEAD + _HEIGHT + 20))
    draw_legend(legend, samples_of(club=scene.has_club, language=wording.language), width)
    return as_text(root)


def _scene(clip: Clip, frame: int, width: float) -> Scene:
    """The whole player with the club."""
    return scene_of(about_the_feet(clip), [frame], width, _HEIGHT, stature=1.0)


def _with_room(scene: Scene, shapes: Sequence[Shape], width: float) -> Scene:
    """The scene made wider until it holds every shape."""
    room = np.array([width, _HEIGHT])
    low, high = scene.corner, scene.corner + room / scene.scale
    for shape in shapes:
        places, reach = _down(shape), (shape.radius or 0.0) + _ROOM
        low = np.minimum(low, places.min(axis=0) - reach)
        high = np.maximum(high, places.max(axis=0) + reach)
    scale = float(min(room / (high - low)))
    corner = (low + high - room / scale) / 2
    return replace(scene, corner=corner, scale=scale, head=scene.head * scale / scene.scale)


def _down(shape: Shape) -> FloatArray:
    """A shape's places with y down, as the picture has it, shape (n_points, 2)."""
    return np.array(shape.points) * (1.0, -1.0)


def _draw(figure: Element, shape: Shape, scene: Scene) -> None:
    places = (_down(shape) - scene.corner) * scene.scale
    match shape.kind:
        case ShapeKind.LINE:
            lines(figure, [(places[0], places[1])], _STROKE)
        case ShapeKind.CIRCLE:
            radius = (shape.radius or 0.0) * scene.scale
            x, y = places[0]
            add(figure, "circle", None, {**_STROKE, "fill": "none"}, cx=x, cy=y, r=radius)
        case ShapeKind.ANGLE:
            lines(figure, [(places[1], places[0]), (places[1], places[2])], _STROKE)
            _draw_arc(figure, places)


def _draw_arc(figure: Element, places: FloatArray) -> None:
    corner = places[1]
    sides = places[[0, 2]] - corner
    radius = _ARC * float(np.hypot(*sides.T).min())
    first, last = (atan2(y, x) for x, y in sides)
    turn = (last - first + pi) % (2 * pi) - pi
    angles = np.linspace(first, first + turn, 24)
    points = [(corner[0] + radius * cos(a), corner[1] + radius * sin(a)) for a in angles]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    add(figure, "polyline", points=path, fill="none", stroke=ANGLE, stroke_width=2.5)


def _write_labels(figure: Element, shapes: Sequence[Shape], scene: Scene, width: float) -> None:
    """Write each shape's label above it, within the picture and clear of the other labels."""
    taken: list[tuple[float, float, float]] = []
    for shape in shapes:
        if shape.label is None:
            continue
        places = (_down(shape) - scene.corner) * scene.scale
        x, y = places[places[:, 1].argmin()]
        y = max(float(y) - 8.0 - (shape.radius or 0.0) * scene.scale, 16.0)
        reach = text_width(shape.label, _LABEL, bold=True) / 2
        x = min(max(float(x), reach + 4.0), width - reach - 4.0)
        while any(abs(x - u) < reach + other and abs(y - v) < _LINE for u, v, other in taken):
            y += _LINE
        taken.append((x, y, reach))
        write(figure, x, y, shape.label, **_HALO, **_LABEL_STYLE)
