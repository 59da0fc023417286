"""Figures are drawn where the player is: at one scale a player, and without what leaps away."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.pose.points import Point
from service.analysis.types import SwingRecording, View
from service.report.clip import Clip
from service.report.pictures.poses import about_the_feet, stature_of
from service.report.pictures.strip import draw_strip
from tests.swings import clip


@pytest.fixture(scope="module")
def alone() -> Clip:
    return _analysed(clip(View.FACE_ON, fps=60.0)[1])


def _analysed(recording: SwingRecording) -> Clip:
    return Clip(None, recording, analyse(recording))


def _joined(first: SwingRecording, second: SwingRecording) -> SwingRecording:
    count = len(first.times) + len(second.times)
    return dataclasses.replace(
        first,
        points=np.concatenate([first.points, second.points]),
        confidence=np.concatenate([first.confidence, second.confidence]),
        times=np.arange(count) * first.times[1],
    )


def test_a_player_is_drawn_by_his_own_size_whoever_else_is_in_the_film(alone: Clip) -> None:
    larger = dataclasses.replace(
        alone.recording, points=alone.recording.points[:40] * 2.5, times=alone.recording.times[:40]
    )
    standing = dataclasses.replace(
        larger,
        points=np.repeat(larger.points[:1], 40, axis=0),
        confidence=alone.recording.confidence[:40],
    )
    both = _analysed(_joined(standing, alone.recording))
    assert "film_cut" in {remark.code for remark in both.analysis.quality.remarks}
    assert stature_of(both) == pytest.approx(stature_of(alone), rel=1e-6)
    np.testing.assert_allclose(about_the_feet(both)[40:], about_the_feet(alone), atol=1e-6)


def test_a_frame_that_leaps_elsewhere_is_drawn_between_its_neighbours(alone: Clip) -> None:
    recording = alone.recording
    frame = round(alone.analysis.positions[3].frame or 0)
    points = recording.points.copy()
    points[frame] += 0.8 * stature_of(alone)
    astray = dataclasses.replace(alone, recording=dataclasses.replace(recording, points=points))
    body = [p for p in Point if p < Point.GRIP_END]
    drawn, sent = about_the_feet(astray)[frame, body], about_the_feet(alone)[frame, body]
    np.testing.assert_allclose(drawn, sent, atol=0.01)
    assert len(draw_strip(astray)) == pytest.approx(len(draw_strip(alone)), rel=0.01)


def test_a_swing_without_leaps_is_drawn_as_it_was_sent(alone: Clip) -> None:
    poses = about_the_feet(alone) * stature_of(alone)
    sent = alone.recording.points
    np.testing.assert_allclose(np.diff(poses, axis=0), np.diff(sent, axis=0), atol=1e-6)
