"""Errors as a pose estimator or an annotator makes them."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from service.analysis.pose.points import ANATOMICAL, CLUB_POINTS, N_POINTS
from service.analysis.pose.stature import body_height
from service.analysis.types import Club, View
from training.simulator import Camera, EstimatorNoise, Golfer, film, swing_motion
from training.simulator.filming.estimating.estimator import (
    LIKE_AN_ANNOTATOR,
    LIKE_AN_ESTIMATOR,
    SIGMA,
)
from training.simulator.other_motions import Standing

INDEX = {name: i for i, name in enumerate(ANATOMICAL)}
FACE_ON, DOWN_THE_LINE = (Camera.standing(view) for view in (View.FACE_ON, View.DOWN_THE_LINE))


@pytest.fixture(scope="module")
def swing():
    return swing_motion(Golfer(club=Club.DRIVER))


def noisy(swing, seed=0, fps=120.0, camera=FACE_ON, **noise):
    rng = np.random.default_rng(seed)
    return film(swing, camera, fps, noise=EstimatorNoise(**noise), rng=rng)


def test_noise_needs_a_generator(swing):
    with pytest.raises(ValueError, match="rng"):
        film(swing, FACE_ON, noise=EstimatorNoise())


def test_the_generator_determines_the_noise_fully(swing):
    one, same, other = noisy(swing, 3), noisy(swing, 3), noisy(swing, 4)
    np.testing.assert_array_equal(one.points, same.points)
    np.testing.assert_array_equal(one.confidence, same.confidence)
    assert not np.allclose(one.points, other.points, equal_nan=True)


def test_errors_at_rest_follow_the_keypoint_sigmas():
    still = Standing(Golfer(), duration=30.0)
    true = film(still, FACE_ON, 30.0).points
    seen = noisy(still, fps=30.0, swaps=0.0, gaps=0.0).points
    joints = [INDEX[n] for n in ("nose", "left_shoulder", "left_hip", "right_knee", "left_ankle")]
    shares = (seen - true)[:, joints].std(axis=(0, 2)) / SIGMA[joints]
    assert np.ptp(shares) < 0.25 * shares.mean()
    assert shares.mean() == pytest.approx(0.25 * 300.0, rel=0.5)


def test_a_higher_level_means_larger_errors(swing):
    true = film(swing, FACE_ON, 120.0).points
    errors = [
        np.nanmedian(np.abs(noisy(swing, level=level, swaps=0.0).points - true))
        for level in (0.1, 0.3, 0.6)
    ]
    assert errors[0] < errors[1] < errors[2]


def test_a_steady_error_stays_the_same_all_through_the_clip(swing):
    true = film(swing, FACE_ON, 120.0).points
    seen = noisy(swing, level=1e-6, steady=0.3, swaps=0.0, gaps=0.0).points
    off = seen - true
    np.testing.assert_allclose(off, np.broadcast_to(off[0], off.shape), atol=1e-2)
    shares = off[0] / SIGMA[:, None]
    assert np.std(shares) == pytest.approx(0.3 * 300.0, rel=0.5)


def test_errors_wander_rather_than_flicker(swing):
    true = film(swing, FACE_ON, 120.0).points
    error = (noisy(swing, swaps=0.0, gaps=0.0).points - true)[:, INDEX["left_hip"], 0]
    assert np.corrcoef(error[:-1], error[1:])[0, 1] > 0.3


def test_fast_points_are_found_less_well(swing):
    true = film(swing, FACE_ON, 240.0)
    seen = noisy(swing, fps=240.0, swaps=0.0, gaps=0.0)
    impact = np.abs(true.times - swing.position_times[6]) < 0.06
    still = true.times < 0.4
    head = INDEX["clubhead"]
    error = np.linalg.norm(seen.points - true.points, axis=-1)[:, head]
    assert error[impact].mean() > 2 * error[still].mean()
    assert seen.confidence[impact, head].mean() < seen.confidence[still, head].mean()


def test_confidence_falls_as_the_error_rises(swing):
    true = film(swing, FACE_ON, 120.0)
    seen = noisy(swing, level=0.8, swaps=0.0)
    error = np.linalg.norm(seen.points - true.points, axis=-1) / SIGMA
    there = ~np.isnan(error)
    assert np.corrcoef(error[there], seen.confidence[there])[0, 1] < -0.4
    assert seen.confidence.max() <= 1.0
    assert np.all(seen.confidence[~there] == 0.0)
    assert np.all(seen.confidence[there] > 0.0)


def test_an_arm_behind_the_trunk_is_found_less_well():
    """Down the line, the lead elbow passes behind the trunk on the way back."""
    motion = swing_motion(Golfer())
    camera = DOWN_THE_LINE
    noise = EstimatorNoise(swaps=0.0, gaps=0.0)
    pixels, depth = camera.project(motion.joints(np.full(400, 0.3)))
    hidden = depth.copy()
    elbow = INDEX["left_elbow"]
    pixels[:, elbow] = pixels[:, INDEX["mid_trunk"]]
    corners = ("left_shoulder", "right_shoulder", "right_hip", "left_hip")
    for name, x, y in zip(corners, (-50, 50, 50, -50), (-80, -80, 80, 80), strict=True):
        pixels[:, INDEX[name]] = pixels[:, elbow] + np.array([x, y])
    hidden[:, elbow] += 1.0
    times = np.arange(400) / 30.0
    spread = [
        noise.observe(pixels, z, times, np.random.default_rng(1))[0][:, elbow].std(axis=0).mean()
        for z in (depth - 1.0 * (np.arange(N_POINTS) == elbow), hidden)
    ]
    assert spread[1] > 2 * spread[0]


def test_sides_are_swapped_only_briefly_and_only_when_asked(swing):
    true = film(swing, FACE_ON, 120.0).points
    left, right = INDEX["left_knee"], INDEX["right_knee"]

    def swapped(**noise):
        seen = noisy(swing, gaps=0.0, level=0.05, **noise).points
        own = np.linalg.norm(seen[:, left] - true[:, left], axis=-1)
        other = np.linalg.norm(seen[:, left] - true[:, right], axis=-1)
        return (other < own).mean()

    assert swapped(swaps=0.0) == 0.0
    assert 0.0 < swapped(swaps=3.0) < 0.5


def test_gaps_lose_points_and_club_points_most(swing):
    full, gappy = noisy(swing, gaps=0.0), noisy(swing, gaps=0.3)
    lost = np.isnan(gappy.points[..., 0]).mean(axis=0)
    club = [INDEX[name] for name in CLUB_POINTS]
    assert not np.isnan(full.points).any()
    assert 0.0 < np.delete(lost, club).mean() < lost[club].mean()


def test_an_estimator_may_know_no_club(swing):
    seen = noisy(swing, club=False)
    club = [INDEX[name] for name in CLUB_POINTS]
    assert np.isnan(seen.points[:, club]).all()
    assert np.all(seen.confidence[:, club] == 0.0)


def like(noise, motion, seed=0, fps=30.0):
    rng = np.random.default_rng(seed)
    true = film(motion, DOWN_THE_LINE, fps).points
    return true, film(motion, DOWN_THE_LINE, fps, noise=noise, rng=rng)


def test_a_real_estimators_errors_are_slow_and_many_times_its_jitter():
    still = Standing(Golfer(), duration=20.0)
    true, seen = like(LIKE_AN_ESTIMATOR, still)
    for name in ("left_hip", "right_knee", "left_shoulder"):
        off = (seen.points - true)[:, INDEX[name]]
        jitter = np.std(np.diff(off, n=2, axis=0)) / np.sqrt(6.0)
        assert np.std(off) > 3.0 * jitter
        assert np.corrcoef(off[:-1, 0], off[1:, 0])[0, 1] > 0.8
        assert np.corrcoef(off[:-60, 0], off[60:, 0])[0, 1] < 0.5


def test_a_real_estimator_is_calm_while_the_player_is_and_flickers_when_he_is_fast(swing):
    noise = dataclasses.replace(LIKE_AN_ESTIMATOR, swaps=0.0)
    flicker = []
    for seed in range(6):
        true, seen = like(noise, swing, seed, fps=120.0)
        off = np.abs(np.diff(seen.points - true, n=2, axis=0))[:, [INDEX["left_wrist"]]]
        fast = int(120.0 * swing.position_times[6])
        flicker.append([np.median(off[fast - 20 : fast + 10]), np.median(off[:30])])
    downswing, address = np.mean(flicker, axis=0)
    assert downswing > 3.0 * address


def test_the_joints_of_a_limb_err_and_are_trusted_together():
    still = Standing(Golfer(), duration=20.0)
    noise = dataclasses.replace(LIKE_AN_ESTIMATOR, swaps=0.0, held=0.0)
    alike = []
    for seed in range(4):
        true, seen = like(noise, still, seed)
        off = (seen.points - true)[:, [INDEX["left_knee"], INDEX["left_ankle"]], 0]
        sure = seen.confidence[:, [INDEX["left_knee"], INDEX["left_ankle"]]]
        alike.append([np.corrcoef(off.T)[0, 1], np.corrcoef(np.log(1.001 - sure).T)[0, 1]])
    errors, confidence = np.mean(alike, axis=0)
    assert errors > 0.2
    assert confidence > 0.6


def test_a_camera_held_by_hand_moves_all_points_alike(swing):
    true, seen = like(EstimatorNoise(level=1e-9, swaps=0.0, gaps=0.0, held=0.01), swing)
    off = seen.points - true
    moved = off.mean(axis=1)
    np.testing.assert_allclose(off, np.broadcast_to(moved[:, None], off.shape), atol=1e-3)
    assert np.ptp(moved) > 0.003 * body_height(true)


def test_measured_errors_have_the_size_that_was_measured_at_rest():
    still = Standing(Golfer(), duration=1.0)
    noise = dataclasses.replace(LIKE_AN_ESTIMATOR, swaps=0.0, held=0.0)
    off = []
    for seed in range(60):
        true, seen = like(noise, still, seed)
        off.append((seen.points - true)[:, INDEX["left_knee"]] / body_height(true))
    # Half of the variance between annotators and estimator: 0.0110 steady, 0.0135 drifting in the
    # middle clip, of a size that differs between clips by a factor of exp(0.5).
    drift = 0.0135 * np.exp(0.5**2)
    assert np.std(off) == pytest.approx(np.hypot(0.0110, drift) / np.sqrt(2.0), rel=0.25)


def test_an_estimator_is_sure_of_the_near_arm_and_not_of_the_hidden_one(swing):
    _, seen = like(LIKE_AN_ESTIMATOR, swing)
    near, far = (np.median(seen.confidence[:, INDEX[f"{s}_elbow"]]) for s in ("right", "left"))
    assert near > 0.75
    assert far < 0.6
    assert np.median(seen.confidence[:, INDEX["left_shoulder"]]) > 0.98


def test_an_annotator_tells_no_confidence(swing):
    _, seen = like(LIKE_AN_ANNOTATOR, swing)
    given = np.isfinite(seen.points[..., 0])
    assert (seen.confidence[given] == 1.0).all()
    assert (seen.confidence[~given] == 0.0).all()


def test_measured_errors_come_from_the_generator_alone_and_scale(swing):
    one, same = (like(LIKE_AN_ESTIMATOR, swing, 5)[1] for _ in range(2))
    np.testing.assert_array_equal(one.points, same.points)
    np.testing.assert_array_equal(one.confidence, same.confidence)
    half = dataclasses.replace(LIKE_AN_ESTIMATOR, measured=0.5, level=1e-9, swaps=0.0, held=0.0)
    whole = dataclasses.replace(half, measured=1.0)
    true, less = like(half, swing, 6)
    _, more = like(whole, swing, 6)
    np.testing.assert_allclose(2.0 * (less.points - true), more.points - true, atol=1e-3)


def test_without_measured_errors_the_generator_is_asked_for_nothing_more(swing):
    plain = noisy(swing, 3)
    np.testing.assert_array_equal(plain.points, noisy(swing, 3, measured=0.0, lag=0.0).points)


def test_a_smoothing_that_knows_only_the_past_lags(swing):
    true, seen = like(EstimatorNoise(level=1e-9, swaps=0.0, gaps=0.0, lag=0.05), swing, fps=240.0)
    wrist = INDEX["left_wrist"]
    impact = int(swing.position_times[6] * 240.0)
    off = np.linalg.norm(
        seen.points[impact, wrist] - true[impact - 20 : impact + 1, wrist], axis=-1
    )
    late = 20 - int(np.argmin(off))
    assert 6 <= late <= 14
