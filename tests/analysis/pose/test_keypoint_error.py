"""How far keypoints are said to be off."""

import numpy as np
import pytest

from service.analysis.pose.conditioning import condition
from service.analysis.pose.keypoint_error import (
    ANNOTATOR_SPREAD,
    confidence_of,
    pose_error,
    sure_error,
)
from service.analysis.pose.points import ANATOMICAL, N_POINTS
from training.simulator.filming.estimating.joint_errors import JOINTS

TIMES = np.arange(60) / 60.0
HEIGHT = 400.0
ELBOW, WRIST = ANATOMICAL.index("left_elbow"), ANATOMICAL.index("left_wrist")
ROOT_AREA = 0.45
"""Root of a standing person's area in body heights."""


def error(confidence=1.0, jitter=0.0, scale=1.0):
    return pose_error(conditioned(confidence, jitter, scale), scale * HEIGHT).points


def conditioned(confidence=1.0, jitter=0.0, scale=1.0):
    rng = np.random.default_rng(1)
    still = rng.uniform(0.0, HEIGHT, (N_POINTS, 2)) + np.zeros((len(TIMES), 1, 1))
    points = scale * (still + HEIGHT * jitter * rng.standard_normal(still.shape))
    told = np.broadcast_to(np.asarray(confidence, dtype=float), still.shape[:2])
    return condition(points, told, TIMES, scale=scale * HEIGHT)


def told(sure=0.99, **others):
    confidence = np.full((len(TIMES), N_POINTS), sure)
    for name, value in others.items():
        confidence[:, ANATOMICAL.index(name)] = value
    return confidence


def test_a_point_that_its_source_is_not_sure_of_may_be_twice_as_far_off():
    usual, unsure = error(told()), error(told(left_elbow=0.5))
    assert unsure[ELBOW] > 1.8 * usual[ELBOW]
    np.testing.assert_array_equal(np.delete(unsure, ELBOW), np.delete(usual, ELBOW))


def test_an_elbow_hidden_for_half_of_the_clip_lies_in_between():
    half = told()
    half[: len(TIMES) // 2, ELBOW] = 0.5
    assert error(told())[ELBOW] < error(half)[ELBOW] < error(told(left_elbow=0.5))[ELBOW]


def test_steady_points_are_off_nevertheless():
    assert (error(told()) > 0.003).all()


@pytest.mark.parametrize("point", ["nose", "left_eye", "right_ear"])
def test_a_face_is_no_surer_than_the_simulated_estimator_finds_it(point):
    joint = JOINTS["nose"]
    assert sure_error(point) == pytest.approx(
        np.sqrt(0.5 * (joint.steady**2 + joint.drift**2)), rel=0.05
    )


def test_jitter_comes_on_top():
    assert (error(told(), jitter=0.02) > error(told())).all()


def test_what_a_source_smooths_away_is_told_of_most_where_it_errs_most():
    smoothed = error(told(), jitter=0.0005)
    anew = np.sqrt(error(told(), jitter=0.003) ** 2 - (1.2 * 0.003) ** 2)
    for joint, least in (("left_shoulder", 2.0), ("left_elbow", 1.6), ("left_ankle", 1.35)):
        point = ANATOMICAL.index(joint)
        assert smoothed[point] > least * anew[point]


def test_a_source_is_taken_to_smooth_the_less_the_more_it_jitters():
    shoulder = ANATOMICAL.index("left_shoulder")
    errors = [error(told(), jitter)[shoulder] for jitter in (0.0005, 0.0015, 0.0025)]
    assert errors == sorted(errors, reverse=True)


def test_how_far_a_source_smooths_is_told_by_its_jitter_if_it_tells_a_confidence():
    by_jitter = [pose_error(conditioned(told(), jitter), HEIGHT) for jitter in (0.0005, 0.003)]
    assert [each.smoothed for each in by_jitter] == [1.0, 0.0]
    assert pose_error(conditioned(1.0, 0.0005), HEIGHT).smoothed == 0.0


def test_a_club_is_found_by_others_than_the_body_and_told_of_alike_whatever_the_body_does():
    club = ANATOMICAL.index("clubhead")
    assert error(told())[club] == pytest.approx(sure_error("clubhead"))
    assert error(told(), 0.004)[club] == pytest.approx(
        np.hypot(0.004, sure_error("clubhead")), rel=0.1
    )


def test_points_set_by_hand_without_confidence_are_off_by_what_annotators_differ_by():
    by_hand = error(jitter=0.006)
    for joint in ("shoulder", "wrist", "hip"):
        spread = ANNOTATOR_SPREAD[joint] * ROOT_AREA / np.sqrt(2.0)
        assert by_hand[ANATOMICAL.index(f"left_{joint}")] == pytest.approx(spread, rel=0.35)


def test_points_computed_from_a_motion_are_doubted_less_than_any_others():
    assert (error() < error(told())).all()
    assert (error() < error(jitter=0.001)).all()


def test_the_error_does_not_depend_on_the_size_of_the_picture():
    np.testing.assert_allclose(error(told(), 0.01), error(told(), 0.01, scale=7.0), rtol=1e-9)


@pytest.mark.parametrize("doubt", [1.0, 1.4, 2.5])
def test_a_source_that_knows_its_error_can_tell_it_by_confidence(doubt):
    known = doubt * sure_error("clubhead")
    read = error(told(clubhead=float(confidence_of("clubhead", np.array(known)))))
    assert read[ANATOMICAL.index("clubhead")] == pytest.approx(known)


def test_no_confidence_stands_for_an_error_larger_than_is_read_from_any():
    largest = sure_error("clubhead") * np.array([0.1, 2.6, 2.7])
    assert np.isnan(confidence_of("clubhead", largest)).tolist() == [False, False, True]
    assert confidence_of("clubhead", largest)[0] == 0.95
