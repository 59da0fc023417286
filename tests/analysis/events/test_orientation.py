import dataclasses

import numpy as np
import pytest

from service.analysis.analyse import analyse
from service.analysis.events.detection import find_downswings
from service.analysis.events.landmark_paths import follow
from service.analysis.events.orientation import Orientation, orient
from service.analysis.measured import measure_swing
from service.analysis.pose.points import Point, swap_sides
from service.analysis.pose.stature import body_height
from service.analysis.types import Handedness, Judged, View
from tests.swings import clip, cut, without
from training.simulator import FaultAmounts

FACING = {View.FACE_ON: 0.9, View.DOWN_THE_LINE: 0.9}


def untold(recording):
    return dataclasses.replace(recording, view=None, handedness=None)


def mirrored(recording):
    """The same swing by a left-hander: the picture and the sides the other way."""
    points = swap_sides(recording.points).copy()
    points[..., 0] = 1000.0 - points[..., 0]
    return dataclasses.replace(
        recording, points=points, confidence=swap_sides(recording.confidence)
    )


@pytest.mark.parametrize("view", list(View))
def test_view_and_handedness_are_told_from_the_motion(view):
    _, recording = clip(view)
    result = analyse(untold(recording))
    assert (result.view.value, result.handedness.value) == (view, Handedness.RIGHT)
    assert min(result.view.confidence, result.handedness.confidence) > FACING[view]


@pytest.mark.parametrize("view", list(View))
def test_a_left_hander_is_told_as_surely_as_a_right_hander(view):
    _, recording = clip(view)
    right = analyse(untold(recording))
    left = analyse(untold(mirrored(recording)))
    assert left.view.value is view
    assert left.handedness.value is Handedness.LEFT
    assert left.handedness.confidence == pytest.approx(right.handedness.confidence, abs=1e-6)


@pytest.mark.parametrize("view", list(View))
def test_without_feet_the_view_is_told_from_the_rest(view):
    _, recording = clip(view)
    result = analyse(untold(without(recording, (Point.LEAD_ANKLE, Point.TRAIL_ANKLE))))
    assert result.view.value is view


@pytest.mark.parametrize(("sure", "speaks_against"), [(0.94, False), (0.96, True)])
def test_only_what_is_clearly_seen_contradicts_what_was_said(sure, speaks_against):
    said = Judged(View.FACE_ON, 1.0, given=True), Judged(Handedness.LEFT, 1.0, given=True)
    seen = (
        Judged(View.DOWN_THE_LINE, sure, given=False),
        Judged(Handedness.RIGHT, sure, given=False),
    )
    orientation = Orientation(*said, False, False, *seen)
    assert orientation.view_contradicted is speaks_against
    assert orientation.handedness_contradicted is speaks_against


@pytest.mark.parametrize("view", list(View))
def test_what_the_caller_says_is_taken(view):
    _, recording = clip(view)
    other = next(v for v in View if v is not view)
    result = analyse(dataclasses.replace(recording, view=other, handedness=Handedness.LEFT))
    assert (result.view.value, result.view.given) == (other, True)
    assert (result.handedness.value, result.handedness.given) == (Handedness.LEFT, True)


def test_shoulders_exchanged_about_the_top_do_not_change_the_hand():
    swing, recording = clip(View.DOWN_THE_LINE)
    near = abs(recording.times - swing.position_times[3]) < 0.12
    points = recording.points.copy()
    sides = [Point.LEAD_SHOULDER, Point.TRAIL_SHOULDER]
    points[np.ix_(near, sides)] = points[np.ix_(near, sides[::-1])]
    result = analyse(untold(dataclasses.replace(recording, points=points)))
    assert result.handedness.value is Handedness.RIGHT


@pytest.mark.parametrize("view", list(View))
def test_a_clip_that_ends_at_impact_is_still_oriented(view):
    swing, recording = clip(view)
    result = analyse(untold(cut(recording, 0.0, swing.position_times[6])))
    assert result.view.value is view
    assert result.handedness.value is Handedness.RIGHT


def test_hands_that_go_up_beyond_where_they_hang_do_not_turn_the_picture_round():
    _, recording = clip(View.DOWN_THE_LINE, amounts=FaultAmounts(arms_lift_at_top=2.0))
    orientation = measure_swing(recording).quality
    steepness = measure_swing(recording).values["hand_path_steepness"]
    assert "camera_opposite" not in {remark.code for remark in orientation.remarks}
    assert steepness.value > 90.0


def test_sides_exchanged_where_the_swing_begins_do_not_make_a_left_hander():
    _, recording = clip(View.FACE_ON, fps=30.0)
    scale = body_height(recording.points)
    body = recording.points * np.array([1.0, -1.0]) / scale
    tracks = follow(body, recording.times)
    swing = find_downswings(tracks)[0]
    begins = slice(swing.start, swing.start + 5)
    body[begins] = swap_sides(body[begins])
    seen = orient(body, tracks, swing, view=None, handedness=None)
    assert seen.handedness.value is Handedness.RIGHT
    assert seen.handedness.confidence > 0.95
