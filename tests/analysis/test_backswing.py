"""Where a backswing that was asked to stop somewhere did stop."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.backswing import on_the_scale
from service.analysis.pose.points import Point, swap_sides
from service.analysis.types import SwingAnalysis, SwingRecording, View
from tests.swings import clip, without
from training.simulator import SwingMotion

LENGTHS = (0.45, 0.5, 0.62, 0.75, 1.0)


@cache
def short_swing(view: View, length: float) -> tuple[SwingMotion, SwingRecording, SwingAnalysis]:
    motion, recording = clip(view, length=length, fps=60.0)
    asked = replace(recording, stop_at=3.5)
    return motion, asked, analyse(asked)


def truth(motion: SwingMotion) -> float:
    joints = motion.canonical_joints(motion.position_times[[3]])[0]
    arm = joints[Point.LEAD_WRIST] - joints[Point.LEAD_SHOULDER]
    elevation = np.degrees(np.arcsin(arm[1] / np.linalg.norm(arm)))
    return float(on_the_scale(np.array([elevation]))[0])


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("length", LENGTHS)
def test_a_backswing_of_any_length_is_told_where_the_arm_in_space_says(
    view: View, length: float
) -> None:
    motion, _, analysis = short_swing(view, length)
    told = analysis.stopped_at
    assert told is not None
    assert told.asked == 3.5
    assert told.value == pytest.approx(truth(motion), abs=min(3.0 * (told.uncertainty or 0), 0.35))
    assert told.frame == pytest.approx(analysis.positions[3].frame, abs=1.0)


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("length", [0.3, 0.35, 0.4])
def test_the_shortest_swings_are_told_rightly_or_said_to_be_unsure(
    view: View, length: float
) -> None:
    motion, _, analysis = short_swing(view, length)
    told = analysis.stopped_at
    assert told is not None
    if told.value is None:
        assert told.reason is not None
        assert told.reason.code == "too_uncertain"
    else:
        assert told.uncertainty is not None
        assert told.value == pytest.approx(truth(motion), abs=min(3.0 * told.uncertainty, 0.35))


@pytest.mark.parametrize("view", list(View))
def test_a_longer_backswing_stops_later(view: View) -> None:
    told = [short_swing(view, length)[2].stopped_at for length in LENGTHS]
    values = [stopped.value for stopped in told if stopped is not None]
    assert np.all(np.diff(values) > 0.0)
    assert values[0] < 3.0 < values[1]


@pytest.mark.parametrize(("view", "camera"), [(View.FACE_ON, 0.03), (View.DOWN_THE_LINE, 0.09)])
def test_what_cameras_add_to_the_error_is_told(view: View, camera: float) -> None:
    told = short_swing(view, 0.62)[2].stopped_at
    assert told is not None
    assert told.uncertainty is not None
    assert told.uncertainty > camera


def test_a_left_hander_gets_what_a_right_hander_gets() -> None:
    _, recording, analysis = short_swing(View.FACE_ON, 0.62)
    mirrored = replace(recording, points=swap_sides(recording.points) * [-1.0, 1.0])
    mine, other = analysis.stopped_at, analyse(mirrored).stopped_at
    assert mine is not None
    assert other is not None
    assert other.value == pytest.approx(mine.value, abs=1e-6)
    assert other.frame == mine.frame


def test_without_the_lead_shoulder_it_is_left_open() -> None:
    _, recording, _ = short_swing(View.FACE_ON, 0.62)
    told = analyse(without(recording, (Point.LEAD_SHOULDER,))).stopped_at
    assert told is not None
    assert told.value is None
    assert told.frame is None
    assert told.reason is not None


def test_without_a_swing_the_reason_is_that_of_the_clip() -> None:
    _, recording, _ = short_swing(View.FACE_ON, 0.62)
    still = np.repeat(recording.points[:1], len(recording.times), axis=0)
    analysis = analyse(replace(recording, points=still))
    assert not analysis.swing_found
    assert analysis.stopped_at is not None
    assert analysis.stopped_at.reason == analysis.reason


def test_what_was_not_asked_is_not_told() -> None:
    _, recording, _ = short_swing(View.FACE_ON, 0.62)
    assert analyse(replace(recording, stop_at=None)).stopped_at is None


def test_the_scale_runs_through_the_positions_and_on_past_the_usual_top() -> None:
    told = on_the_scale(np.array([-90.0, -68.0, -45.0, 0.0, 17.5, 35.0, 70.0]))
    assert told.tolist() == [1.0, 1.0, 2.0, 3.0, 3.5, 4.0, 5.0]
