from __future__ import annotations

import json

import numpy as np
import pytest

from service.analysis.pose.points import ANATOMICAL
from service.analysis.types import Club, Handedness, Intent, SwingRecording, View
from service.intake.errors import InvalidRequest
from service.intake.recording import Limits, to_recording
from service.intake.request import read_request
from tests.api.clips import changed, clip, frames_of

NOSE, LEFT_WRIST, RIGHT_WRIST, CLUBHEAD = map(
    ANATOMICAL.index, ("nose", "left_wrist", "right_wrist", "clubhead")
)


def _recording(**changes: object) -> SwingRecording:
    request = read_request(json.dumps(clip(**changes)).encode())
    return to_recording(request, Limits(min_frames=12, max_frames=100))


def test_points_land_in_anatomical_order_and_missing_ones_are_nan() -> None:
    recording = _recording()
    assert recording.points[5, NOSE].tolist() == [642, 210]
    assert recording.points[5, LEFT_WRIST].tolist() == [612, 475]
    assert np.isnan(recording.points[:, RIGHT_WRIST]).all()
    assert recording.confidence[5, [NOSE, RIGHT_WRIST]].tolist() == [1, 0]


def test_points_with_and_without_confidence_may_be_mixed() -> None:
    recording = _recording(keypoints=changed(4, 0, to=[1, 2, 0.25]))
    assert recording.confidence[[3, 4], NOSE].tolist() == [1, 0.25]


@pytest.mark.parametrize("point", [[None, 3], [3, None, 0.9], [None, None, None]])
def test_a_point_with_a_missing_coordinate_is_missing(point: object) -> None:
    recording = _recording(keypoints=changed(4, 0, to=point))
    assert np.isnan(recording.points[4, NOSE]).all()
    assert recording.confidence[4, NOSE] == 0


@pytest.mark.parametrize(
    ("point", "missing"),
    [([0, 0], True), ([0, 0, 0], True), ([0, 0, None], True), ([0, 0, 0.8], False)],
)
def test_zero_zero_is_missing_unless_it_has_confidence(point: object, missing: bool) -> None:
    recording = _recording(keypoints=changed(4, 0, to=point))
    assert np.isnan(recording.points[4, NOSE, 0]) == missing


def test_a_frame_of_nothing_but_zeros_is_missing_whatever_its_confidence() -> None:
    recording = _recording(keypoints=changed(4, to=[[0, 0, 0.9]] * 3))
    assert np.isnan(recording.points[4]).all()
    assert not np.isnan(recording.points[5, NOSE]).any()


def test_normalised_coordinates_come_out_in_pixels() -> None:
    recording = _recording(
        coordinates="normalised",
        image_size={"width": 1000, "height": 500},
        keypoints=frames_of([0.5, 0.5]),
    )
    assert recording.points[0, NOSE].tolist() == [500, 250]


def test_slow_motion_is_undone() -> None:
    times = _recording(fps=30, playback_speed=0.25).times
    assert times[4] == pytest.approx(4 / 120)


def test_timestamps_start_at_zero_and_keep_their_spacing() -> None:
    sent = [100 + 0.02 * t + (0.01 if t > 5 else 0) for t in range(24)]
    times = _recording(fps=None, timestamps=sent, playback_speed=0.5).times
    assert times[0] == 0
    assert times[[5, 6]] == pytest.approx([0.05, 0.065])


def test_club_points_join_the_body() -> None:
    head = [[t, 5, 0.5] if t else None for t in range(24)]
    recording = _recording(club_points={"clubhead": head, "grip": None})
    assert np.isnan(recording.points[0, CLUBHEAD]).all()
    assert recording.points[3, CLUBHEAD].tolist() == [3, 5]
    assert recording.confidence[3, CLUBHEAD] == 0.5


def test_what_the_caller_knows_is_passed_on() -> None:
    recording = _recording(view="face_on", handedness="left", intent="rehearsal", club="wedge")
    told = (recording.view, recording.handedness, recording.intent, recording.club)
    assert told == (View.FACE_ON, Handedness.LEFT, Intent.REHEARSAL, Club.WEDGE)


def test_a_clip_in_which_no_point_was_found_is_not_refused() -> None:
    assert np.isnan(_recording(keypoints=frames_of(None)).points).all()


def test_a_layout_in_other_spelling_is_the_same_layout() -> None:
    spelt = _recording(layout=["Nose", "LWrist", "right-wrist"])
    np.testing.assert_array_equal(spelt.points, _recording().points)


SLIPS = {
    "a view in another spelling": ({"view": "Face-on"}, "/view", "did you mean face_on?"),
    "a number in quotes": ({"fps": "60"}, "/fps", "should be a number, not a string"),
    "a field that is none": ({"handness": "left"}, "/handness", "did you mean handedness?"),
    "a point of the club": (
        {"club_points": {"Club head": []}},
        "/club_points/Club head",
        "clubhead?",
    ),
    "a field within another": ({"asked": {"stop_at": 3.0, "stop": 3}}, "/asked/stop", "stop_at?"),
    "a column": ({"layout": ["nose", "sholder_l", None]}, "/layout/1", "did you mean shoulder_l?"),
    "numbers for frames": ({"keypoints": [1.0] * 40}, "/keypoints", "a number each, no list"),
    "a library for its format": ({"format": "MediaPipe"}, "/format", "mean landmarks_33_objects?"),
    "a format that it is not": ({"format": "openpose_json"}, "/format", "frames of plain points"),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_told_with_its_field_what_was_meant_and_the_fix(slip: str) -> None:
    changes, pointer, problem = SLIPS[slip]
    with pytest.raises(InvalidRequest) as caught:
        _recording(**changes)
    (error,) = caught.value.errors
    assert error.pointer == pointer
    assert problem in error.problem
    assert error.fix


def test_a_missing_layout_and_a_missing_clock_are_told_at_once() -> None:
    for layout in (None, "no skeleton"):
        with pytest.raises(InvalidRequest) as caught:
            _recording(layout=layout, fps=None)
        assert [error.pointer for error in caught.value.errors] == ["/layout", "/fps"]


@pytest.mark.parametrize(
    ("body", "pointers"),
    [
        ({}, ["/keypoints", "/layout", "/fps"]),
        ({"fps": "60"}, ["/keypoints", "/fps", "/layout"]),
        ({"format": "yolo_pose", "timestamps": [0.0]}, ["/keypoints"]),
        (clip(fps=None, view="sideways"), ["/view", "/fps"]),
        ({"frames": [], "frame_rate": 60}, ["/keypoints", "/frames", "/frame_rate"]),
    ],
)
def test_what_lacks_is_told_with_what_is_wrong(
    body: dict[str, object], pointers: list[str]
) -> None:
    with pytest.raises(InvalidRequest) as refused:
        read_request(json.dumps(body).encode())
    assert [error.pointer for error in refused.value.errors] == pointers


def test_a_missing_clock_and_a_point_that_is_none_are_told_at_once() -> None:
    with pytest.raises(InvalidRequest) as caught:
        _recording(fps=None, keypoints=changed(4, 0, to=["x", 1]))
    assert [error.pointer for error in caught.value.errors] == ["/fps", "/keypoints/4/0/0"]


def test_who_marks_missing_points_by_a_confidence_below_0_is_told_to_send_null() -> None:
    with pytest.raises(InvalidRequest) as caught:
        _recording(keypoints=changed(4, 0, to=[-1, -1, -1]))
    (error,) = caught.value.errors
    assert (error.pointer, error.problem) == ("/keypoints/4/0/2", "is a confidence below 0")
    assert error.fix.startswith("Send null for a missing point")


def test_two_formats_in_one_request_are_told_by_the_frames_that_differ() -> None:
    person = {"people": [{"pose_keypoints_2d": [1.0, 2.0, 0.9] * 25}]}
    with pytest.raises(InvalidRequest) as caught:
        _recording(keypoints=[person, *frames_of(20)])
    assert caught.value.errors[0].pointer == "/keypoints/1"
    assert "pose_keypoints_2d" in caught.value.errors[0].fix


def test_an_error_names_the_pointer_in_its_message() -> None:
    with pytest.raises(InvalidRequest, match="/keypoints/4/0 is a list of 1"):
        _recording(keypoints=changed(4, 0, to=[1]))


@pytest.mark.parametrize(
    ("step", "problem"),
    [
        (0.0, "is not later than"),
        (-0.1, "is not later than"),
        (1e-10, "is less than 0.1 ms later than"),
        (9e-5, "is less than 0.1 ms later than"),
    ],
)
def test_frames_that_are_one_frame_written_twice_are_refused(step: float, problem: str) -> None:
    times = [t / 60 for t in range(24)]
    times[7] = times[6] + step
    with pytest.raises(InvalidRequest, match=f"/timestamps/7 {problem}"):
        _recording(fps=None, timestamps=times)
