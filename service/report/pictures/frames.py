"""One position of a swing as a picture, with the angles that matter there."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.lessons.words.wording import IN_ENGLISH, Wording
from service.report.clip import Clip
from service.report.drawing.figure import draw_figure, drawn_points, scene_of
from service.report.drawing.legend import draw_legend, legend_height, samples_of
from service.report.drawing.measured.angles import angles_of, draw_angles
from service.report.drawing.svg import MUTED, PANEL, add, as_text, picture, shift, write
from service.report.pictures.poses import about_the_feet, frame_of

_WIDTH: Final = 420.0
_MARGIN = 12.0
_HEAD = 32.0
_FIGURE = 330.0
_LINE = 18.0


def draw_frame(clip: Clip, position: float, wording: Wording = IN_ENGLISH) -> str:
    """Draw one position of a swing with the angles that matter there.

    The pose is drawn as it was sent, and missing points and what rests on them are left
    out. Angles are as they look in the picture, so they can differ from a measure that
    corrects for limbs pointing at the camera or away; where a limb does so strongly, the
    angle is left out too.

    Parameters
    ----------
    position
        As for :func:`service.report.pictures.poses.frame_of`.

    Returns
    -------
    str
        A self-contained SVG picture, 420 wide.

    Raises
    ------
    PositionNotShown
        When the swing doesn't show the position.
    """
    frame = frame_of(clip.analysis, position)
    assert clip.analysis.view is not None  # a position was found
    view, width = clip.analysis.view.value, _WIDTH - 2 * _MARGIN
    scene = scene_of(about_the_feet(clip), [frame], width, _FIGURE, stature=1.0)
    angles = angles_of(scene, frame, position, view)
    told = [f"{wording.say(angle.title)}: {angle.text}" for angle in angles]
    samples = samples_of(club=scene.has_club, language=wording.language)
    bottom = _HEAD + _FIGURE + _LINE * (1 + len(told))
    title = f"P{_number(position, wording)}, {wording.view(view)}"
    said = "; ".join(told) or wording.say("no angle could be measured")
    height = bottom + legend_height(samples, width) + 4
    root = picture(_WIDTH, height, title, f"{title}: {said}.")
    write(root, _MARGIN, 22, title, font_size=15, font_weight="bold")
    when = f"{wording.language.number(float(clip.recording.times[frame]), 2)} s"
    write(root, _WIDTH - _MARGIN, 22, when, text_anchor="end", fill=MUTED)
    figure = add(root, "svg", x=_MARGIN, y=_HEAD, width=width, height=_FIGURE)
    add(figure, "rect", width=width, height=_FIGURE, fill=PANEL)
    pose = scene.pose(frame)
    draw_figure(figure, pose, scene.head)
    drawn = drawn_points(pose, scene.head)
    draw_angles(figure, angles, (width, _FIGURE), np.asarray(drawn))
    for row, line in enumerate(told, start=1):
        write(root, _MARGIN, _HEAD + _FIGURE + _LINE * row, line)
    legend = add(root, "g", transform=shift(_MARGIN, bottom + 8))
    draw_legend(legend, samples, width)
    return as_text(root)


def _number(position: float, wording: Wording) -> str:
    """A position as precisely as it was asked for, with the language's decimal sign."""
    decimals = len(f"{position:g}".partition(".")[2])
    return wording.language.number(position, decimals)
