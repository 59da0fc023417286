"""A shaft of which the grip is not sent, or whose head leaves the picture where it is level."""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.events.positions.searches.levels import _level_unseen
from service.analysis.events.positions.searches.scene import Found, Scene
from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import Source, SwingRecording, View
from tests.swings import CLUB, clip, without

GRIP = tuple(p for p in CLUB if p is not Point.CLUBHEAD)


@pytest.mark.parametrize("view", list(View))
def test_a_clubhead_alone_shows_with_the_hands_when_the_shaft_is_level(view: View):
    motion, recording = clip(view)
    found = analyse(without(recording, GRIP)).positions
    for number in (2, 6, 8):
        told = found[number - 1]
        assert told.source is Source.OBSERVED
        assert told.time == pytest.approx(motion.position_times[number - 1], abs=0.033)


def upright(recording: SwingRecording, share: float) -> SwingRecording:
    """The same clip in a picture so narrow that it shows the clubhead no farther to either side
    than a share of how far it goes."""
    head = recording.points[:, Point.CLUBHEAD, 0]
    middle = np.nanmedian(recording.points[:, Point.LEAD_HIP, 0])
    beyond = np.abs(head - middle) > share * np.nanmax(np.abs(head - middle))
    points, confidence = recording.points.copy(), recording.confidence.copy()
    points[beyond, Point.CLUBHEAD], confidence[beyond, Point.CLUBHEAD] = np.nan, 0.0
    points[:, Point.SHAFT_MID] = np.nan
    return dataclasses.replace(recording, points=points, confidence=confidence)


@pytest.mark.parametrize("share", [0.95, 0.85, 0.75])
def test_a_shaft_is_level_between_where_its_head_leaves_the_picture_and_comes_back(share: float):
    motion, recording = clip(View.FACE_ON)
    second = analyse(upright(recording, share)).positions[1]
    assert second.source is Source.OBSERVED
    assert second.time == pytest.approx(motion.position_times[1], abs=0.02)


CLOCK = np.arange(0.0, 1.0, 0.01)
LEVEL = 0.5


def turning(gone: tuple[float, float]) -> Scene:
    """A shaft that turns evenly through level at half a second, unseen for some time."""
    angle = np.radians(120.0) * (CLOCK - LEVEL)
    points = np.full((len(CLOCK), N_POINTS, 2), np.nan)
    points[:, Point.GRIP] = 0.0
    points[:, Point.CLUBHEAD] = 0.6 * np.stack([-np.cos(angle), np.sin(angle)], axis=-1)
    points[(gone[0] < CLOCK) & (gone[1] > CLOCK), Point.CLUBHEAD] = np.nan
    tracks = SimpleNamespace(times=CLOCK, frame=0.01)
    swing = SimpleNamespace(start=0, end=len(CLOCK) - 1)
    return Scene(points, tracks, swing, View.FACE_ON, np.zeros(N_POINTS))


def unseen(scene: Scene, first: float = 0.2, last: float = 0.8) -> Found | None:
    return _level_unseen(scene, Found(first, 0.0), Found(last, 0.0), Found(0.9, 0.0))


@pytest.mark.parametrize("gone", [(0.4, 0.6), (0.35, 0.55), (0.45, 0.7)])
def test_a_shaft_that_turns_evenly_is_told_where_it_is_unseen(gone: tuple[float, float]):
    told = unseen(turning(gone))
    assert told is not None
    assert told.time == pytest.approx(LEVEL, abs=1e-4)
    assert 0.005 < told.uncertainty < 0.02


def test_it_is_not_told_over_most_of_the_takeaway_nor_from_one_side():
    assert unseen(turning((0.28, 0.72))) is None  # 0.44 of 0.6 s
    assert unseen(turning((0.4, 1.1))) is None
    assert _level_unseen(turning((0.4, 0.6)), None, Found(0.8, 0.0), Found(0.9, 0.0)) is None
