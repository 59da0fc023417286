"""What a picture of a fault shows: each swing at the moment, and which part of the body."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.faults import CATALOGUE
from service.analysis.pose.points import Point
from service.analysis.spelling import did_you_mean
from service.analysis.types import FloatArray, View
from service.lessons.words.wording import IN_ENGLISH
from service.report.clip import Clip
from service.report.drawing.measured.marks import Poses
from service.report.drawing.measured.measures import ShownMeasure, arrows_of, measures_of
from service.report.drawing.measured.measures import drawn_points as marked_points
from service.report.drawing.measured.regions import near_region, region_of
from service.report.pictures.poses import (
    PositionNotShown,
    about_the_feet,
    feet_and_stature,
    forward,
    frame_of,
)
from service.report.pictures.still import Window

_LEAST_HEIGHT, _MOST_HEIGHT = 150.0, 270.0
_AROUND: Final[float] = 0.07
"""Body heights of room about what is shown."""
_AROUND_SMALL: Final[float] = 0.2
"""The same as a share of what is shown, where that is small, so that it fills its picture."""


class FaultNotShown(PositionNotShown):
    """Raised when a fault can't be seen from where a swing was filmed."""


@dataclass(frozen=True)
class Shot:
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
        """Where it was filmed from."""
        assert self.clip.analysis.view is not None  # a position was found
        return self.clip.analysis.view.value

    @property
    def has_club(self) -> bool:
        """Whether the club is seen at the moment."""
        return bool(np.isfinite(self.poses[self.frame, Point.CLUBHEAD]).all())


@dataclass(frozen=True)
class Part:
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

    def shows(self, shot: Shot, points: Sequence[Point]) -> bool:
        """Whether any of the points is seen in the panel of a shot."""
        places = self.place(shot.poses[shot.frame, list(points)])
        return bool(((places >= 0.0) & (places <= self.size)).all(axis=-1).any())

    def film_window(self, shot: Shot) -> Window:
        """What a panel shows, in the unit of the recording's points."""
        feet, stature = feet_and_stature(shot.clip)
        left, top = (float(side) for side in self.corner * stature + feet)
        width, height = (side / self.scale * stature for side in self.size)
        return Window(left, top, width, height)


def shots_of(swings: Mapping[str, Clip], fault: str, position: float) -> list[Shot]:
    """The swings at a position, by what to call each.

    Raises
    ------
    PositionNotShown
        When one of the swings doesn't show the position.
    FaultNotShown
        When there is no such fault, or none that can be seen from this view.
    """
    return [_shot(heading, clip, fault, position) for heading, clip in swings.items()]


def _shot(heading: str, clip: Clip, fault: str, position: float) -> Shot:
    frame = frame_of(clip.analysis, position)
    _check_seen(fault, clip)
    poses = near_region(about_the_feet(clip), region_of(fault))
    return Shot(heading, clip, poses, frame, forward(clip))


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


def framed(shots: Sequence[Shot], fault: str, width: float) -> Part:
    """The part in which the fault shows in all of the swings, with what is drawn for it."""
    region = list(region_of(fault))
    part = _fit([s.poses[s.frame, region] for s in shots], width)
    # What is drawn for the measures may reach out of the region.
    marked = [part.taken_back(_reach(shown_in(s, fault, part))) for s in shots]
    return _fit([*(s.poses[s.frame, region] for s in shots), *marked], width)


def _fit(shown: Sequence[FloatArray], width: float) -> Part:
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
    return Part((low + high - room / scale) / 2, scale, (width, height))


def shown_in(shot: Shot, fault: str, part: Part) -> tuple[ShownMeasure, ...]:
    """The measures of a swing, placed where the part shows them."""

    def at(number: int) -> FloatArray:
        try:
            return part.place(shot.poses[frame_of(shot.clip.analysis, number)])
        except PositionNotShown:
            return np.full_like(shot.poses[0], np.nan)

    poses = Poses(
        now=part.place(shot.poses[shot.frame]),
        address=at(1),
        arm_level=at(3),
        stature=part.scale,
        forward=shot.forward,
        view=shot.view,
    )
    return measures_of(fault, shot.view, shot.clip.analysis, poses)


def _reach(shown: Sequence[ShownMeasure]) -> FloatArray:
    """What is drawn for measures with room about its arrows, shape (n, 2)."""
    arrows = np.array([p for way in arrows_of(shown) for p in way]).reshape(-1, 2)
    return np.concatenate([marked_points(shown), arrows])
