"""A fault as a picture: what it is judged by, in one swing or in several beside each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.analysis.faults import CATALOGUE
from service.analysis.types import View
from service.lessons.words.wording import IN_ENGLISH, Wording
from service.report.clip import Clip
from service.report.drawing.figure import (
    HEAD_RADIUS,
    LEAD_POINTS,
    TRAIL_POINTS,
    draw_figure,
    draw_halo,
    drawn_points,
    points_along,
)
from service.report.drawing.legend import Sample, draw_legend, legend_height, samples_of
from service.report.drawing.measured.angles import draw_angles
from service.report.drawing.measured.measures import (
    ShownMeasure,
    angle_of,
    arrows_of,
    draw_arrow,
    draw_marks,
    values_in_words,
)
from service.report.drawing.measured.regions import region_of, shows_club
from service.report.drawing.measured.tempo import HEIGHT, Tempo, draw_tempo, scale_for, tempo_of
from service.report.drawing.svg import MARK, PANEL, add, as_text, picture, shift, wrap, write
from service.report.pictures.fault_shots import Part, Shot, framed, shots_of, shown_in
from service.report.pictures.poses import feet_and_stature
from service.report.pictures.still import Window

_WIDTH: Final = 420.0
_MARGIN = 12.0
_GAP = 8.0
_HEAD = 32.0
_TEXT_SIZE, _LINE = 15, 20.0
_WASHED_OUT: Final[float] = 0.8
"""Opacity of a still, which has to leave what is drawn over it readable."""


def draw_fault(
    swings: Mapping[str, Clip],
    fault: str,
    position: float,
    wording: Wording = IN_ENGLISH,
) -> str:
    """Draw the measures by which a fault is judged, in one swing or in several beside each other.

    Cut to the part of the body where the fault shows, all at one scale, with an arrow from where
    each measure is to where it should be and the way to the target. Under the drawing stand the
    measures' values as the analyses have them, so that they are those of the findings, and what
    the lines stand for. A still of the film lies under its figure where the clip has one.

    Parameters
    ----------
    swings
        By what to call each; of one player, filmed from one view.
    position
        As for :func:`service.report.pictures.poses.frame_of`.

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
    shots = shots_of(swings, fault, position)
    title = _title(shots, fault, position, wording)
    tempos = _tempos(shots, fault)
    if tempos:
        return as_text(_tempo_page(shots, tempos, fault, title, _width(shots), wording))
    part = framed(shots, fault, _width(shots))
    told = [shown_in(shot, fault, part) for shot in shots]
    samples = _samples(shots, told, fault, part, wording)
    return as_text(_page(shots, told, part, samples, title, wording))


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
    shots = shots_of(swings, fault, position)
    if _tempos(shots, fault):
        return {}
    part = framed(shots, fault, _width(shots))
    return {shot.heading: (shot.frame, part.film_window(shot)) for shot in shots}


def _width(shots: Sequence[Shot]) -> float:
    """Of each panel."""
    return (_WIDTH - 2 * _MARGIN - _GAP * (len(shots) - 1)) / len(shots)


def _tempos(shots: Sequence[Shot], fault: str) -> list[Tempo]:
    """The time that each swing took, for a fault of timing that all of them show; else none."""
    criteria = CATALOGUE[fault].criteria
    tempos = [tempo_of(criteria[s.view][0], s.clip.analysis) for s in shots]
    return [t for t in tempos if t] if all(tempos) else []


def _page(
    shots: Sequence[Shot],
    told: Sequence[Sequence[ShownMeasure]],
    part: Part,
    samples: Sequence[Sample],
    title: str,
    wording: Wording,
) -> Element:
    width, height = part.size
    room = _WIDTH - 2 * _MARGIN
    said = [*_beside(told, wording), *_about_the_target(shots, wording)]
    rows = [line for each in said for line in wrap(each, room, _TEXT_SIZE)]
    bottom = _HEAD + height + _LINE * len(rows) + 26
    words = " ".join(_in_words(*each, wording) for each in zip(shots, told, strict=True))
    below = legend_height(samples, room) - 12
    root = picture(_WIDTH, bottom + below, title, words)
    for column, (shot, shown) in enumerate(zip(shots, told, strict=True)):
        panel = add(root, "g", transform=shift(_MARGIN + column * (width + _GAP), 0))
        _draw_heading(panel, shot, width, wording)
        figure = add(panel, "svg", y=_HEAD, width=width, height=height)
        add(figure, "rect", width=width, height=height, fill=PANEL)
        _draw_still(figure, shot, part)
        _draw_shot(figure, shot, shown, part, wording)
    for row, line in enumerate(rows, start=1):
        write(root, _MARGIN, _HEAD + height + _LINE * row, line, font_size=_TEXT_SIZE)
    draw_legend(add(root, "g", transform=shift(_MARGIN, bottom)), samples, room)
    return root


def _tempo_page(
    shots: Sequence[Shot],
    tempos: Sequence[Tempo],
    fault: str,
    title: str,
    width: float,
    wording: Wording,
) -> Element:
    """A fault of timing: bars in place of figures, which would show nothing of it."""
    nowhere = Part(np.zeros(2), 1.0, (width, HEIGHT))
    told = [shown_in(shot, fault, nowhere) for shot in shots]
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
    shots: Sequence[Shot],
    told: Sequence[Sequence[ShownMeasure]],
    fault: str,
    part: Part,
    wording: Wording,
) -> list[Sample]:
    return samples_of(
        lead=any(part.shows(shot, LEAD_POINTS) for shot in shots),
        trail=any(part.shows(shot, TRAIL_POINTS) for shot in shots),
        club=shows_club(region_of(fault)) and any(shot.has_club for shot in shots),
        measured=any(s.mark is not None for shown in told for s in shown),
        arrow=any(map(arrows_of, told)),
        language=wording.language,
    )


def _title(shots: Sequence[Shot], fault: str, position: float, wording: Wording) -> str:
    name, place = wording.say(CATALOGUE[fault].title), wording.place(position)
    return f"{name}: {place}, {wording.view(shots[-1].view)}"


def _draw_heading(panel: Element, shot: Shot, width: float, wording: Wording) -> None:
    write(panel, 0, 22, shot.heading, font_size=15, font_weight="bold")
    if shot.view is not View.FACE_ON:
        return
    target = wording.say("Target")
    start, end = (width - 34, width - 4) if shot.forward > 0 else (width - 4, width - 34)
    write(panel, width - 42, 22, target, text_anchor="end", fill=MARK)
    draw_arrow(panel, np.array([[start, 17.5], [end, 17.5]]))


def _draw_still(figure: Element, shot: Shot, part: Part) -> None:
    """The frame of the film, so that its points lie under those of the figure."""
    still = shot.clip.stills.get(shot.frame)
    if still is None:
        return
    feet, stature = feet_and_stature(shot.clip)
    start = np.array([still.left, still.top])
    corners = np.stack([start, start + np.array([still.width, still.height])])
    (x, y), (right, bottom) = part.place((corners - feet) / stature)
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
    figure: Element, shot: Shot, shown: Sequence[ShownMeasure], part: Part, wording: Wording
) -> None:
    pose, head = part.place(shot.poses[shot.frame]), HEAD_RADIUS * part.scale
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
    draw_angles(figure, angles, part.size, np.concatenate(drawn))


def _beside(told: Sequence[Sequence[ShownMeasure]], wording: Wording) -> list[str]:
    """Each measure with its values in the swings, in their order, and what they should come to."""
    return [
        f"{wording.say(shown[0].measurement.title)}: "
        f"{values_in_words([s.measurement for s in shown], wording)}{shown[-1].aim(wording)}"
        for shown in zip(*told, strict=True)
    ]


def _about_the_target(shots: Sequence[Shot], wording: Wording) -> list[str]:
    if shots[-1].view is View.FACE_ON:
        return []
    return [wording.say("The target lies straight away from you, into the picture.")]


def _in_words(shot: Shot, shown: Sequence[ShownMeasure], wording: Wording) -> str:
    """A swing in words, for those who don't see it."""
    return f"{shot.heading}: {'; '.join(s.text(wording) for s in shown)}."
