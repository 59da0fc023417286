"""One position of a swing as a picture, alone or beside the same position of another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from service.analysis.faults import CATALOGUE
from service.analysis.pose.conditioning import body_height
from service.analysis.pose.points import CLUB_POINTS, Point, swap_sides
from service.analysis.types import (
    FloatArray,
    Handedness,
    SwingAnalysis,
)
from service.lessons.wording import place_in_words, uncapitalised, views_in_words
from service.report.clip import Clip
from service.report.drawing.angles import SeenAngle, angles_of, draw_angles
from service.report.drawing.figure import (
    Scene,
    draw_figure,
    draw_legend,
    scene_of,
)
from service.report.drawing.measure_marks import (
    Poses,
    ShownMeasure,
    angle_of,
    draw_mark,
    measures_of,
    region_of,
    values_in_words,
    without_club,
)
from service.report.drawing.svg import MUTED, PANEL, add, as_text, picture, shift, wrap, write

_WIDTH = 420.0
_MARGIN = 12.0
_GAP = 8.0
_HEAD = 32.0
_FIGURE = 330.0
_BESIDE_SIZE, _BESIDE_LINE = 15, 20.0
_CUT = 250.0
"""Height of a figure cut to where a fault shows."""
_LEAST_CUT = 150.0
_AROUND = 0.18
"""Body heights of room about a cut figure, both sides together."""
_LINE = 18.0
_LEGEND = 28.0
_FEET: Final = (
    (Point.LEAD_ANKLE, Point.TRAIL_ANKLE),
    (Point.LEAD_HIP, Point.TRAIL_HIP),
)
"""What figures are laid over each other by: the ankles, or without them the hips."""


class PositionNotShown(ValueError):
    """Raised when a swing doesn't show a position; the message is a sentence for the reader."""


class FaultNotShown(PositionNotShown):
    """Raised when a fault can't be seen from where a swing was filmed."""


@dataclass(frozen=True)
class _Still:
    """One frame ready to draw, with what is said about it."""

    heading: str
    time: float


def frame_of(analysis: SwingAnalysis, position: float) -> int:
    """The frame nearest to a position coordinate.

    Parameters
    ----------
    position
        From 1 to 10; 3.5 is halfway along the hands' path from P3 to P4.

    Raises
    ------
    PositionNotShown
        When the clip holds no swing, or not this position.
    """
    found = {p.number: p.frame for p in analysis.positions if p.frame is not None}
    if not found:
        raise PositionNotShown(
            analysis.reason.text if analysis.reason else "The clip holds no golf swing."
        )
    if position in found:
        return round(found[int(position)])
    missing = next((p for p in analysis.positions if p.number == position), None)
    if missing is not None and missing.reason is not None:
        raise PositionNotShown(f"{missing.name} was not found. {missing.reason.text}")
    if not min(found) <= position <= max(found) or np.isnan(analysis.coordinate).all():
        raise PositionNotShown(
            f"P{position:g} is not in the clip; it shows P{min(found)} to P{max(found)}."
        )
    return int(np.nanargmin(np.abs(analysis.coordinate - position)))


def draw_frame(clip: Clip, position: float) -> str:
    """Draw one position of a swing with the angles that matter there.

    The pose is drawn as it was sent, and missing points and what rests on them are left
    out. Angles are as they look in the picture, so they can differ from a measure that
    corrects for limbs pointing at the camera or away; where a limb does so strongly, the
    angle is left out too.

    Parameters
    ----------
    position
        As for :func:`frame_of`.

    Returns
    -------
    str
        A self-contained SVG picture, 420 wide.

    Raises
    ------
    PositionNotShown
        When the swing doesn't show the position.
    """
    scene, frames = _shared_scene([clip], position, _WIDTH - 2 * _MARGIN)
    title = f"P{position:g}, {_view_in_words(clip)}"
    told = [(_still(clip, title, position), _angles(scene, frames[0], position, clip))]
    return as_text(_page(told, scene, frames, title))


def draw_before_after(before: Clip, after: Clip, position: float) -> str:
    """Draw one position of two swings side by side, same scale, feet at the same height.

    Both swings are of one player, filmed from one view. Angles are drawn where both show them.

    Parameters
    ----------
    position
        As for :func:`frame_of`.

    Returns
    -------
    str
        A self-contained SVG picture, 420 wide.

    Raises
    ------
    PositionNotShown
        When one of the swings doesn't show the position.
    """
    clips = (before, after)
    scene, frames = _shared_scene(clips, position, (_WIDTH - 2 * _MARGIN - _GAP) / 2)
    stills = [_still(c, h, position) for c, h in zip(clips, ("Before", "After"), strict=True)]
    angles = [_angles(scene, f, position, c) for c, f in zip(clips, frames, strict=True)]
    both = set.intersection(*({a.title for a in each} for each in angles))
    shared = [[a for a in each if a.title in both] for each in angles]
    title = f"P{position:g} before and after, {_view_in_words(after)}"
    return as_text(_page(list(zip(stills, shared, strict=True)), scene, frames, title))


def draw_fault(swings: Mapping[str, Clip], fault: str, position: float) -> str:
    """Draw the measures by which a fault is judged, in one swing or in several beside each other.

    Cut to the part of the body where the fault shows, all at one scale. Beside the drawing stand
    the measures' values as the analyses have them, so that they are those of the findings.

    Parameters
    ----------
    swings
        By what to call each; of one player, filmed from one view.
    position
        As for :func:`frame_of`.

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
    clips = list(swings.values())
    for clip in clips:
        frame_of(clip.analysis, position)
        _check_seen(fault, clip)
    width = (_WIDTH - 2 * _MARGIN - _GAP * (len(clips) - 1)) / len(clips)
    region = region_of(fault)
    height = _height_of(clips, position, width, region)
    scene, frames = _shared_scene(clips, position, width, height, region)
    starts = [f - frame_of(c.analysis, position) for c, f in zip(clips, frames, strict=True)]
    told = []
    for (heading, clip), start, frame in zip(swings.items(), starts, frames, strict=True):
        poses = _poses(scene, clip, start, frame)
        assert clip.analysis.view is not None  # a position was found
        shown = measures_of(fault, clip.analysis.view.value, clip.analysis, poses)
        told.append((_still(clip, heading, position), shown))
    title = f"{CATALOGUE[fault].title}: {place_in_words(position)}, {_view_in_words(clips[-1])}"
    return as_text(_page(told, scene, frames, title, height, region))


def body_scene(clip: Clip, frames: Sequence[int], width: float, height: float) -> Scene:
    """One scene of lead and trail poses in which the body of some frames fits.

    The club, which would make small figures smaller still, may reach out of it.
    """
    poses = _about_the_feet(clip)
    body = poses.copy()
    body[:, [Point[name.upper()] for name in CLUB_POINTS]] = np.nan
    return replace(scene_of(body, frames, width, height), poses=poses)


def _poses(scene: Scene, clip: Clip, start: int, frame: int) -> Poses:
    """What the measures of a swing look at; its frames in the scene begin at ``start``."""

    def at(number: int) -> FloatArray:
        try:
            return scene.pose(start + frame_of(clip.analysis, number))
        except PositionNotShown:
            return np.full_like(scene.poses[0], np.nan)

    return Poses(now=scene.pose(frame), address=at(1), arm_level=at(3))


def _shared_scene(
    clips: Sequence[Clip],
    position: float,
    width: float,
    height: float = _FIGURE,
    region: Sequence[Point] | None = None,
) -> tuple[Scene, list[int]]:
    """Clips in one scene, each in body heights from its feet; and their frames in it.

    The points of ``region``, without one all of them, fit into it.
    """
    own = [frame_of(clip.analysis, position) for clip in clips]
    poses = [_about_the_feet(clip) for clip in clips]
    starts = accumulate((len(p) for p in poses[:-1]), initial=0)
    frames = [start + frame for start, frame in zip(starts, own, strict=True)]
    whole = np.concatenate(poses)
    scene = scene_of(_only(whole, region), frames, width, height, stature=1.0)
    return replace(scene, poses=whole), frames


def _only(poses: FloatArray, region: Sequence[Point] | None) -> FloatArray:
    """Poses with the points of a region alone; without a region as they are."""
    if region is None:
        return poses
    cut = np.full_like(poses, np.nan)
    cut[:, list(region)] = poses[:, list(region)]
    return cut


def _check_seen(fault: str, clip: Clip) -> None:
    definition, view = CATALOGUE.get(fault), clip.analysis.view
    if definition is None:
        raise FaultNotShown(f"There is no fault named {fault!r}; known are {', '.join(CATALOGUE)}.")
    if view is None or view.value not in definition.views:
        raise FaultNotShown(
            f"{definition.title} can only be seen {views_in_words(definition.views)}; this swing "
            f"was filmed {_view_in_words(clip)}."
        )


def _height_of(
    clips: Sequence[Clip], position: float, width: float, region: Sequence[Point] | None
) -> float:
    """Height that a figure needs when its region fills the width, within what looks right."""
    shown = [
        _only(_about_the_feet(clip), region)[frame_of(clip.analysis, position)] for clip in clips
    ]
    points = np.concatenate(shown)
    points = points[np.isfinite(points).all(axis=1)]
    if not len(points):
        return _CUT
    across, up = np.ptp(points, axis=0) + _AROUND
    return float(np.clip(width * up / across, _LEAST_CUT, _CUT))


def _about_the_feet(clip: Clip) -> FloatArray:
    """Poses in body heights from the feet at address, shape (n_frames, n_points, 2), y down."""
    points = clip.recording.points
    handedness = clip.analysis.handedness
    if handedness is not None and handedness.value is Handedness.LEFT:
        points = swap_sides(points)
    return np.asarray((points - _feet(points, clip.analysis)) / body_height(points))


def _feet(points: FloatArray, analysis: SwingAnalysis) -> FloatArray:
    """Middle of the feet up to P2, before they move, shape (2,)."""
    early = points[analysis.coordinate <= 2.0]
    for pair in _FEET:
        seen = early[:, pair].mean(axis=1)
        if np.isfinite(seen).any():
            return np.asarray(np.nanmedian(seen, axis=0))
    return np.asarray(np.nanmedian(points, axis=(0, 1)))


def _still(clip: Clip, heading: str, position: float) -> _Still:
    frame = frame_of(clip.analysis, position)
    return _Still(heading, float(clip.recording.times[frame]))


def _angles(scene: Scene, frame: int, position: float, clip: Clip) -> list[SeenAngle]:
    assert clip.analysis.view is not None  # a position was found
    return angles_of(scene, frame, position, clip.analysis.view.value)


def _view_in_words(clip: Clip) -> str:
    assert clip.analysis.view is not None  # a position was found
    return clip.analysis.view.value.value.replace("_", " ")


def _page(
    told: Sequence[tuple[_Still, Sequence[SeenAngle | ShownMeasure]]],
    scene: Scene,
    frames: Sequence[int],
    title: str,
    height: float = _FIGURE,
    cut: Sequence[Point] | None = None,
) -> Element:
    width = (_WIDTH - 2 * _MARGIN - _GAP * (len(told) - 1)) / len(told)
    measured = [[s for s in seen if isinstance(s, ShownMeasure)] for _, seen in told]
    beside = _beside(measured) if all(measured) else []
    captions = [[] if beside else _caption(seen, width) for _, seen in told]
    rows = [line for each in beside for line in wrap(each, _WIDTH - 2 * _MARGIN, _BESIDE_SIZE)]
    below = _LINE * (1 + max(map(len, captions))) + _BESIDE_LINE * len(rows)
    bottom = _HEAD + height + below
    root = picture(_WIDTH, bottom + _LEGEND, title, " ".join(_told(*each) for each in told))
    club = scene.has_club and (cut is None or Point.CLUBHEAD in cut)
    for column, ((still, seen), frame) in enumerate(zip(told, frames, strict=True)):
        x = _MARGIN + column * (width + _GAP)
        panel = add(root, "g", transform=shift(x, 0))
        _draw_heading(panel, still, width)
        figure = add(panel, "svg", y=_HEAD, width=width, height=height)
        add(figure, "rect", width=width, height=_FIGURE, fill=PANEL)
        pose = scene.pose(frame)
        draw_figure(figure, pose if club else without_club(pose), scene.head)
        _draw_seen(figure, seen)
        for row, line in enumerate(captions[column]):
            write(panel, 0, _HEAD + height + _LINE * (row + 1), line)
    for row, line in enumerate(rows):
        y = _HEAD + height + _BESIDE_LINE * (row + 1)
        write(root, _MARGIN, y, line, font_size=_BESIDE_SIZE)
    legend = add(root, "g", transform=shift(_MARGIN, bottom + 8))
    draw_legend(legend, club=club)
    return root


def _beside(measured: Sequence[Sequence[ShownMeasure]]) -> list[str]:
    """Each measure with its values in the swings, in their order."""
    return [
        f"{shown[0].measurement.title}: {values_in_words([s.measurement for s in shown])}"
        for shown in zip(*measured, strict=True)
    ]


def _draw_seen(figure: Element, seen: Sequence[SeenAngle | ShownMeasure]) -> None:
    for each in seen:
        if isinstance(each, ShownMeasure) and each.mark is not None:
            draw_mark(figure, each.mark)
    angles = [angle_of(each) if isinstance(each, ShownMeasure) else each for each in seen]
    draw_angles(figure, [angle for angle in angles if angle is not None])


def _draw_heading(panel: Element, still: _Still, width: float) -> None:
    write(panel, 0, 22, still.heading, font_size=15, font_weight="bold")
    when = f"{still.time:.2f} s"
    write(panel, width, 22, when, text_anchor="end", fill=MUTED)


def _caption(seen: Sequence[SeenAngle | ShownMeasure], width: float) -> list[str]:
    return [line for each in seen for line in wrap(_in_words(each), width, 13)]


def _in_words(seen: SeenAngle | ShownMeasure) -> str:
    return seen.text if isinstance(seen, ShownMeasure) else f"{seen.title}: {seen.text}"


def _told(still: _Still, seen: Sequence[SeenAngle | ShownMeasure]) -> str:
    """A still in words, for those who don't see it."""
    told = "; ".join(uncapitalised(_in_words(each)) for each in seen)
    return f"{still.heading}: {told or 'no angle could be measured'}."
