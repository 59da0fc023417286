"""What ``python -m tests.reference.estimator.errors`` measures, on made-up and on real points."""

import numpy as np
import pytest

from service.analysis.pose.points import N_POINTS
from tests.reference.clips import FOLDER
from tests.reference.estimator import errors as errors
from tests.reference.estimator.laid_over import LaidOver, fit, laid_over

needs_clips = pytest.mark.skipif(
    not (FOLDER / "estimated_golf_clips.ndjson").is_file(),
    reason="the clips are research data outside the project; set SWING_REFERENCE_DIR to the "
    "folder that holds them",
)


def made_up(seen_from):
    """Hands that go to and fro along x while all else stands, and how they were seen."""
    rng, frames = np.random.default_rng(0), 60
    true = np.repeat(rng.uniform(0.0, 1.0, (1, N_POINTS, 2)), frames, axis=0)
    swing = 0.4 * np.sin(np.arange(frames) / 6.0)
    for joint in (*errors.JOINTS["wrist"], *errors.JOINTS["elbow"]):
        true[:, joint, 0] += swing
    coordinate = np.linspace(4.0, 9.0, frames)
    sure = np.ones((frames, N_POINTS))
    return LaidOver("made up", true, seen_from(true), sure, coordinate, "face_on", 30.0)


def test_scale_and_shift_are_found_in_spite_of_a_lost_leg():
    true = np.random.default_rng(1).uniform(0.0, 1.0, (40, N_POINTS, 2))
    seen = 150.0 * true + np.array([20.0, 30.0])
    seen[:10, errors.JOINTS["ankle"][0]] += 90.0
    scale, shift = fit(true, seen)
    assert scale == pytest.approx(150.0, rel=1e-3)
    np.testing.assert_allclose(shift, [20.0, 30.0], atol=0.2)


def test_a_steady_error_is_told_from_jitter():
    rng = np.random.default_rng(2)
    jittery = made_up(lambda true: true + 0.01 * rng.standard_normal(true.shape))
    shifted = made_up(lambda true: true + 0.05)
    assert errors.parts([jittery], errors.JOINTS["hip"])["jitter"] == pytest.approx(0.01, rel=0.3)
    steady = errors.parts([shifted], errors.JOINTS["hip"])
    assert steady["jitter"] == pytest.approx(0.0, abs=1e-9)
    assert steady["common"] == pytest.approx(0.05)


def test_hands_that_come_two_frames_late_lag_by_two_frames():
    assert errors.lag(made_up(lambda true: np.roll(true, 2, axis=0))) == pytest.approx(2.0, abs=0.2)


def test_an_exchange_of_legs_is_seen_while_it_lasts():
    def cross(true):
        seen = true.copy()
        for joint in ("knee", "ankle"):
            lead, trail = errors.JOINTS[joint]
            seen[20:24, [lead, trail]] = true[20:24, [trail, lead]]
        return seen

    runs = errors.stretches(errors.exchanged(made_up(cross), (20, 22)))
    assert runs == [4]


def test_an_arm_is_lost_where_it_is_far_from_its_place():
    def drop(true):
        seen = true.copy()
        seen[5:9, errors.ARMS["lead"][1]] += 0.2
        return seen

    assert np.flatnonzero(errors.lost(made_up(drop), errors.ARMS["lead"])).tolist() == [5, 6, 7, 8]


def test_errors_that_fade_by_half_a_frame_at_a_time_last_one_and_a_half_frames():
    halves = 0.5 ** np.arange(8.0)
    assert errors.memory(halves, 30.0) * 30.0 == pytest.approx(1.53, abs=0.1)


@needs_clips
@pytest.mark.reference
def test_real_errors_are_steady_and_slow_rather_than_jitter():
    clips = laid_over()
    assert len(clips) == 21
    for joints in errors.JOINTS.values():
        sd = errors.parts(clips, joints)
        assert sd["jitter"] < sd["drift"]
        assert 0.005 < sd["steady"] < 0.03
        assert errors.memory(errors.lasting(clips, joints), 30.0) > 0.05
