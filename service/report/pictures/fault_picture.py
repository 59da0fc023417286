"""A fault as a picture: what it is judged by, in one swing or in several beside each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import Point
from service.analysis.spelling import did_you_mean
from service.analysis.types import FloatArray, View
from service.lessons.telling.wording import IN_ENGLISH, Wording
from service.report.clip import Clip
from service.report.drawing.angles import draw_angles
from service.report.drawing.figure import (
    HEAD_RADIUS,
    draw_figure,
    draw_halo,
    drawn_points,
    points_along,
)
from service.report.drawing.legend import Sample, draw_legend, legend_height, samples_of
from service.report.drawing.marks import Poses
from service.report.drawing.measures import (
    ShownMeasure,
    angle_of,
    arrows_of,
    draw_arrow,
    draw_marks,
    measures_of,
    values_in_words,
)
from service.report.drawing.measures import drawn_points as marked_points
from service.report.drawing.regions import near_region, region_of, shows_club
from service.report.drawing.svg import MARK, PANEL, add, as_text, picture, shift, wrap, write
from service.report.drawing.tempo import HEIGHT, Tempo, draw_tempo, scale_for, tempo_of
from service.report.pictures.poses import (
    PositionNotShown,
    about_the_feet,
    feet_and_stature,
    forward,
    frame_of,
)
from service.report.pictures.still import Window

_WIDTH: Final = 420.0
_MARGIN = 12.0
_GAP = 8.0
_HEAD = 32.0
_LEAST_HEIGHT, _MOST_HEIGHT = 150.0, 270.0
_TEXT_SIZE, _LINE = 15, 20.0
_AROUND: Final[float] = 0.07
"""Body heights of room about what is shown."""
_AROUND_SMALL: Final[float] = 0.2
"""The same as a share of what is shown, where that is small, so that it fills its picture."""
_WASHED_OUT: Final[float] = 0.8
"""Opacity of a still, which has to leave what is drawn over it readable."""


class FaultNotShown(PositionNotShown):
    """Raised when a fault can't be seen from where a swing was filmed."""


@dataclass(frozen=True)
class _Shot:
    """One swing at the moment to show.

    ``poses`` are of shape (n_frames, n_points, 2), in body heights from the feet, y down.
    """

    heading: str
    clip: Clip
    poses: FloatArray
    frame: int
    forward: float

    @property
    def view(self) -> View:
        assert self.clip.analysis.view is not None  # a position was found
        return self.clip.analysis.view.value


@dataclass(frozen=True)
class _Frame:
    """Which part of the poses' plane the panels show: its upper left corner, and the scale."""

    corner: FloatArray
    scale: float
    size: tuple[float, float]

    def place(self, points: FloatArray) -> FloatArray:
        """Points in panel coordinates."""
        return np.asarray((points - self.corner) * self.scale)

    def taken_back(self, places: FloatArray) -> FloatArray:
        """What :meth:`place` made of points, as it was."""
        return np.asarray(places / self.scale + self.corner)


def draw_fault(
    swings: Mapping[str, Clip],
    fault: str,
    position: float,
    wording: Wording = IN_ENGLISH,
    *,
    legend: bool = True,
) -> str:
    """Draw the measures by which a fault is judged, in one swing or in several beside each other.

    Cut to the part of the body where the fault shows, all at one scale, with an arrow from where
    each measure is to where it should be and the way to the target. Under the drawing stand the
    measures' values as the analyses have them, so that they are those of the findings. A still of
    the film lies under its figure where the clip has one.

    Parameters
    ----------
    swings
        By what to call each; of one player, filmed from one view.
    position
        As for :func:`service.report.pictures.poses.frame_of`.
    legend
        Whether to say what the lines stand for, which another picture may have said.

    Returns
    -------
    str
        A self-contained SVG picture, 420 wide.

    Raises
    ------
    PositionNotShown
        When one of the swings doesn't show the position.
    FaultNotShown
        When there is no such fault, or none that can be seen from this view.
    """
    shots = _shots(swings, fault, position)
    title = _title(shots, fault, position, wording)
    tempos = _tempos(shots, fault)
    if tempos:
        return as_text(_tempo_page(shots, tempos, fault, title, _width(shots), wording))
    frame = _framed(shots, fault)
    told = [_shown(shot, fault, frame) for shot in shots]
    samples = _samples(shots, told, fault, wording) if legend else []
    return as_text(_page(shots, told, frame, samples, title, wording))


def film_windows_of(
    swings: Mapping[str, Clip], fault: str, position: float
) -> dict[str, tuple[int, Window]]:
    """For each swing the frame that :func:`draw_fault` shows, and which part of its picture.

    Empty for a fault of timing, which is drawn without figures.

    Raises
    ------
    PositionNotShown, FaultNotShown
        As there.
    """
    shots = _shots(swings, fault, position)
    if _tempos(shots, fault):
        return {}
    frame = _framed(shots, fault)
    return {shot.heading: (shot.frame, _film_window(shot, frame)) for shot in shots}


def _film_window(shot: _Shot, frame: _Frame) -> Window:
    """What a panel shows, in the unit of the recording's points."""
    feet, stature = feet_and_stature(shot.clip)
    left, top = (float(side) for side in frame.corner * stature + feet)
    width, height = (side / frame.scale * stature for side in frame.size)
    return Window(left, top, width, height)


def _shots(swings: Mapping[str, Clip], fault: str, position: float) -> list[_Shot]:
    return [_shot(heading, clip, fault, position) for heading, clip in swings.items()]


def _width(shots: Sequence[_Shot]) -> float:
    """Of each panel."""
    return (_WIDTH - 2 * _MARGIN - _GAP * (len(shots) - 1)) / len(shots)


def _tempos(shots: Sequence[_Shot], fault: str) -> list[Tempo]:
    """The time that each swing took, for a fault of timing that all of them show; else none."""
    criteria = CATALOGUE[fault].criteria
    tempos = [tempo_of(criteria[s.view][0], s.clip.analysis) for s in shots]
    return [t for t in tempos if t] if all(tempos) else []


def _framed(shots: Sequence[_Shot], fault: str) -> _Frame:
    region, width = list(region_of(fault)), _width(shots)
    frame = _fit([s.poses[s.frame, region] for s in shots], width)
    # What is drawn for the measures may reach out of the region.
    marked = [frame.taken_back(_reach(_shown(s, fault, frame))) for s in shots]
    return _fit([*(s.poses[s.frame, region] for s in shots), *marked], width)


def _shot(heading: str, clip: Clip, fault: str, position: float) -> _Shot:
    frame = frame_of(clip.analysis, position)
    _check_seen(fault, clip)
    poses = near_region(about_the_feet(clip), region_of(fault))
    return _Shot(heading, clip, poses, frame, forward(clip))


def _check_seen(fault: str, clip: Clip) -> None:
    definition, view = CATALOGUE.get(fault), clip.analysis.view
    if definition is None:
        meant = did_you_mean(fault, CATALOGUE) or f"; known are {', '.join(CATALOGUE)}."
        raise FaultNotShown(f"There is no fault named {fault!r}{meant}")
    if view is None or view.value not in definition.views:
        raise FaultNotShown(
            f"{definition.title} can only be seen {IN_ENGLISH.views(definition.views)}; this swing "
            f"was filmed {IN_ENGLISH.view(view.value) if view else 'from nowhere known'}."
        )


def _fit(shown: Sequence[FloatArray], width: float) -> _Frame:
    """The part of the plane in which all points have room, as wide as a panel."""
    points = np.concatenate([each.reshape(-1, 2) for each in shown])
    points = points[np.isfinite(points).all(axis=1)]
    if not len(points):
        points = np.array([[-0.5, -1.0], [0.5, 0.0]])
    low, high = points.min(axis=0), points.max(axis=0)
    around = min(_AROUND, _AROUND_SMALL * float((high - low).max()))
    low, high = low - around, high + around
    across, up = high - low
    height = float(np.clip(width * up / across, _LEAST_HEIGHT, _MOST_HEIGHT))
    room = np.array([width, height])
    scale = float(min(room / (high - low)))
    return _Frame((low + high - room / scale) / 2, scale, (width, height))


def _shown(shot: _Shot, fault: str, frame: _Frame) -> tuple[ShownMeasure, ...]:
    def at(number: int) -> FloatArray:
        try:
            return frame.place(shot.poses[frame_of(shot.clip.analysis, number)])
        except PositionNotShown:
            return np.full_like(shot.poses[0], np.nan)

    poses = Poses(
        now=frame.place(shot.poses[shot.frame]),
        address=at(1),
        arm_level=at(3),
        stature=frame.scale,
        forward=shot.forward,
        view=shot.view,
    )
    return measures_of(fault, shot.view, shot.clip.analysis, poses)


def _reach(shown: Sequence[ShownMeasure]) -> FloatArray:
    """What is drawn for measures with room about its arrows, shape (n, 2)."""
    arrows = np.array([p for way in arrows_of(shown) for p in way]).reshape(-1, 2)
    return np.concatenate([marked_points(shown), arrows])


def _page(
    shots: Sequence[_Shot],
    told: Sequence[Sequence[ShownMeasure]],
    frame: _Frame,
    samples: Sequence[Sample],
    title: str,
    wording: Wording,
) -> Element:
    width, height = frame.size
    room = _WIDTH - 2 * _MARGIN
    said = [*_beside(told, wording), *_about_the_target(shots, wording)]
    rows = [line for each in said for line in wrap(each, room, _TEXT_SIZE)]
    bottom = _HEAD + height + _LINE * len(rows) + 26
    words = " ".join(_in_words(*each, wording) for each in zip(shots, told, strict=True))
    below = legend_height(samples, room) - 8 if samples else -16
    root = picture(_WIDTH, bottom + below, title, words)
    for column, (shot, shown) in enumerate(zip(shots, told, strict=True)):
        panel = add(root, "g", transform=shift(_MARGIN + column * (width + _GAP), 0))
        _draw_heading(panel, shot, width, wording)
        figure = add(panel, "svg", y=_HEAD, width=width, height=height)
        add(figure, "rect", width=width, height=height, fill=PANEL)
        _draw_still(figure, shot, frame)
        _draw_shot(figure, shot, shown, frame, wording)
    for row, line in enumerate(rows, start=1):
        write(root, _MARGIN, _HEAD + height + _LINE * row, line, font_size=_TEXT_SIZE)
    draw_legend(add(root, "g", transform=shift(_MARGIN, bottom)), samples, room)
    return root


def _tempo_page(
    shots: Sequence[_Shot],
    tempos: Sequence[Tempo],
    fault: str,
    title: str,
    width: float,
    wording: Wording,
) -> Element:
    """A fault of timing: bars in place of figures, which would show nothing of it."""
    nowhere = _Frame(np.zeros(2), 1.0, (width, HEIGHT))
    told = [_shown(shot, fault, nowhere) for shot in shots]
    rows = _beside(told, wording)
    words = " ".join(_in_words(*each, wording) for each in zip(shots, told, strict=True))
    root = picture(_WIDTH, _HEAD + HEIGHT + _LINE * len(rows) + 10, title, words)
    seconds = scale_for(max(tempo.longest for tempo in tempos), width)
    for column, (shot, tempo) in enumerate(zip(shots, tempos, strict=True)):
        panel = add(root, "g", transform=shift(_MARGIN + column * (width + _GAP), 0))
        write(panel, 0, 22, shot.heading, font_size=15, font_weight="bold")
        figure = add(panel, "svg", y=_HEAD, width=width, height=HEIGHT)
        add(figure, "rect", width=width, height=HEIGHT, fill=PANEL)
        draw_tempo(figure, tempo, seconds, wording)
    for row, line in enumerate(rows, start=1):
        write(root, _MARGIN, _HEAD + HEIGHT + _LINE * row, line, font_size=_TEXT_SIZE)
    return root


def _samples(
    shots: Sequence[_Shot], told: Sequence[Sequence[ShownMeasure]], fault: str, wording: Wording
) -> list[Sample]:
    return samples_of(
        club=shows_club(region_of(fault)) and any(map(_has_club, shots)),
        arrow=any(map(arrows_of, told)),
        language=wording.language,
    )


def _title(shots: Sequence[_Shot], fault: str, position: float, wording: Wording) -> str:
    name, place = wording.say(CATALOGUE[fault].title), wording.place(position)
    return f"{name}: {place}, {wording.view(shots[-1].view)}"


def _draw_heading(panel: Element, shot: _Shot, width: float, wording: Wording) -> None:
    write(panel, 0, 22, shot.heading, font_size=15, font_weight="bold")
    if shot.view is not View.FACE_ON:
        return
    target = wording.say("Target")
    start, end = (width - 34, width - 4) if shot.forward > 0 else (width - 4, width - 34)
    write(panel, width - 42, 22, target, text_anchor="end", fill=MARK)
    draw_arrow(panel, np.array([[start, 17.5], [end, 17.5]]))


def _draw_still(figure: Element, shot: _Shot, frame: _Frame) -> None:
    """The frame of the film, so that its points lie under those of the figure."""
    still = shot.clip.stills.get(shot.frame)
    if still is None:
        return
    feet, stature = feet_and_stature(shot.clip)
    start = np.array([still.left, still.top])
    corners = np.stack([start, start + np.array([still.width, still.height])])
    (x, y), (right, bottom) = frame.place((corners - feet) / stature)
    add(
        figure,
        "image",
        href=still.uri,
        x=x,
        y=y,
        width=right - x,
        height=bottom - y,
        preserveAspectRatio="none",
        opacity=_WASHED_OUT,
    )


def _draw_shot(
    figure: Element, shot: _Shot, shown: Sequence[ShownMeasure], frame: _Frame, wording: Wording
) -> None:
    pose, head = frame.place(shot.poses[shot.frame]), HEAD_RADIUS * frame.scale
    arrows = arrows_of(shown)
    if shot.frame in shot.clip.stills:
        draw_halo(figure, pose, head)
    draw_figure(figure, pose, head)
    draw_marks(figure, shown)
    for arrow in arrows:
        draw_arrow(figure, arrow)
    ways = [(a, b) for arrow in arrows for a, b in pairwise(arrow)]
    ways += [line for s in shown if s.mark for line in (*s.mark.own, *s.mark.against)]
    drawn = [drawn_points(pose, head), *(points_along(a, b) for a, b in ways)]
    angles = [angle for s in shown if (angle := angle_of(s, wording)) is not None]
    draw_angles(figure, angles, frame.size, np.concatenate(drawn))


def _beside(told: Sequence[Sequence[ShownMeasure]], wording: Wording) -> list[str]:
    """Each measure with its values in the swings, in their order."""
    return [
        f"{wording.say(shown[0].measurement.title)}: "
        f"{values_in_words([s.measurement for s in shown], wording)}"
        for shown in zip(*told, strict=True)
    ]


def _about_the_target(shots: Sequence[_Shot], wording: Wording) -> list[str]:
    if shots[-1].view is View.FACE_ON:
        return []
    return [wording.say("The target lies straight away from you, into the picture.")]


def _in_words(shot: _Shot, shown: Sequence[ShownMeasure], wording: Wording) -> str:
    """A swing in words, for those who don't see it."""
    return f"{shot.heading}: {'; '.join(s.text(wording) for s in shown)}."


def _has_club(shot: _Shot) -> bool:
    return bool(np.isfinite(shot.poses[shot.frame, Point.CLUBHEAD]).all())
