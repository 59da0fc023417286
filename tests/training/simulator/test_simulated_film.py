from __future__ import annotations

import numpy as np
import pytest

from service.analysis.pose.points import ANATOMICAL, CLUB_POINTS, N_POINTS
from service.analysis.types import Club, Handedness, View
from training.simulator import Camera, EstimatorNoise, Golfer, film, random_camera, swing_motion
from training.simulator.other_motions import Standing, Throwing, Walking

INDEX = {name: i for i, name in enumerate(ANATOMICAL)}


@pytest.fixture(scope="module")
def swing():
    return swing_motion(Golfer(club=Club.DRIVER))


def test_a_point_projects_by_similar_triangles():
    camera = Camera(View.FACE_ON, (0.0, 1.0, 5.0), 180.0, 0.0, 0.0, (1000, 2000), 1500.0)
    pixels, depth = camera.project(np.array([[0.0, 1.0, 0.0], [1.0, 2.0, 2.0]]))
    np.testing.assert_allclose(pixels, [[500.0, 1000.0], [1000.0, 500.0]])
    np.testing.assert_allclose(depth, [5.0, 3.0])


def test_pitch_looks_up_and_roll_turns_clockwise():
    ahead = np.array([[0.0, 0.0, 4.0], [0.0, 1.0, 4.0]])

    def camera(pitch=0.0, roll=0.0):
        return Camera(View.FACE_ON, (0.0, 0.0, 0.0), 0.0, pitch, roll, (1000, 1000), 1000.0)

    assert camera(pitch=5.0).project(ahead)[0][0, 1] > 500.0
    upright = camera().project(ahead)[0]
    rolled = camera(roll=5.0).project(ahead)[0]
    assert rolled[1, 0] < upright[1, 0]


def test_what_is_behind_the_camera_is_not_seen():
    camera = Camera.standing(View.FACE_ON, distance=3.0)
    pixels, _ = camera.project(np.array([0.0, 1.0, 8.0]))
    assert np.isnan(pixels).all()


@pytest.mark.parametrize("view", View)
def test_player_and_club_stay_in_the_picture(swing, view):
    camera = Camera.standing(view)
    points = film(swing, camera).points
    body = np.delete(points, [INDEX[name] for name in CLUB_POINTS], axis=1)
    assert body.min() > 0
    assert np.all(body.max(axis=(0, 1)) < camera.image_size)
    assert np.ptp(points[0, :, 1]) > 0.3 * camera.image_size[1]


def test_face_on_a_right_hander_has_the_target_to_the_right_and_the_left_side_there(swing):
    points = film(swing, Camera.standing(View.FACE_ON)).points[0]
    assert points[INDEX["left_shoulder"], 0] > points[INDEX["right_shoulder"], 0]
    assert points[INDEX["head_top"], 1] < points[INDEX["mid_hip"], 1]
    finish = film(swing, Camera.standing(View.FACE_ON)).points[-1]
    assert finish[INDEX["mid_hip"], 0] > points[INDEX["mid_hip"], 0]


def test_down_the_line_a_right_hander_faces_right(swing):
    points = film(swing, Camera.standing(View.DOWN_THE_LINE)).points[0]
    assert points[INDEX["clubhead"], 0] > points[INDEX["left_toe"], 0]
    assert points[INDEX["left_toe"], 0] > points[INDEX["left_heel"], 0]
    assert points[INDEX["nose"], 0] > points[INDEX["mid_hip"], 0]


@pytest.mark.parametrize("view", View)
def test_a_left_hander_films_as_the_mirror_image(view):
    camera = Camera.standing(view, yaw=4.0, roll=2.0)
    right = film(swing_motion(Golfer()), camera).points
    left = film(swing_motion(Golfer(handedness=Handedness.LEFT)), camera).points
    wrists = [INDEX["left_wrist"], INDEX["right_wrist"]]
    np.testing.assert_allclose(left[:, wrists[::-1], 1], right[:, wrists, 1])
    np.testing.assert_allclose(left[:, wrists[::-1], 0], camera.image_size[0] - right[:, wrists, 0])


def test_a_camera_round_toward_the_target_sees_the_trail_side_behind():
    joints = np.array([[-0.2, 1.0, 0.0], [0.2, 1.0, 0.0]])
    straight = Camera.standing(View.FACE_ON).project(joints)[1]
    round_ = Camera.standing(View.FACE_ON, yaw=20.0).project(joints)[1]
    assert straight[0] == pytest.approx(straight[1])
    assert round_[0] > round_[1]


def test_random_cameras_still_see_the_player(swing):
    for seed in range(20):
        rng = np.random.default_rng(seed)
        view = list(View)[seed % 2]
        camera = random_camera(rng, view)
        points = film(swing, camera, fps=30).points
        middle = points[:, INDEX["mid_hip"]]
        assert camera.view is view
        assert np.all((middle > 0) & (middle < camera.image_size))


def test_a_recording_tells_the_setting_only_when_asked(swing):
    silent = film(swing, Camera.standing(View.FACE_ON))
    telling = film(swing, Camera.standing(View.FACE_ON), tell=True)
    assert (silent.view, silent.handedness, silent.club) == (None, None, None)
    assert telling.view is View.FACE_ON
    assert telling.handedness is Handedness.RIGHT
    assert telling.club is Club.DRIVER


def test_frames_may_come_at_any_times(swing):
    recording = film(swing, Camera.standing(View.FACE_ON), times=np.array([0.5, 0.6, 0.9]))
    np.testing.assert_allclose(recording.times, [0.0, 0.1, 0.4])
    assert recording.points.shape == (3, N_POINTS, 2)


@pytest.mark.parametrize("kind", [Standing, Walking, Throwing])
def test_other_motions_move_as_bodies_do(kind):
    motion = kind(Golfer())
    times = np.arange(0.0, motion.duration, 1.0 / 480.0)
    joints = motion.joints(times)
    club = [INDEX[name] for name in CLUB_POINTS]
    body = np.delete(joints, club, axis=1)
    assert np.isnan(joints[:, club]).all()
    assert np.isfinite(body).all()
    assert body[..., 1].min() > -1e-6
    for start, end in (("left_hip", "left_knee"), ("right_elbow", "right_wrist"), ("neck", "head")):
        length = np.linalg.norm(joints[:, INDEX[start]] - joints[:, INDEX[end]], axis=-1)
        assert np.ptp(length) < 1e-6
    velocity = np.diff(body, axis=0) * 480.0
    assert np.linalg.norm(np.diff(velocity, axis=0), axis=-1).max() < 1.0


def test_other_motions_can_be_filmed():
    recording = film(
        Walking(Golfer()), Camera.standing(View.DOWN_THE_LINE), noise=EstimatorNoise(),
        rng=np.random.default_rng(0),
    )  # fmt: skip
    assert np.isfinite(recording.points[:, INDEX["neck"]]).mean() > 0.8
