"""Conditioning: what is cleaned, and above all what is left alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.analysis.pose.conditioning import Conditioned, condition
from service.analysis.pose.points import ANATOMICAL, N_POINTS
from service.analysis.pose.stature import body_height, statures
from service.analysis.types import FloatArray, View
from tests.swings import clip


def sides(*joints: str) -> list[list[int]]:
    return [[ANATOMICAL.index(f"{side}_{joint}") for joint in joints] for side in ("left", "right")]


KNEE = ANATOMICAL.index("left_knee")
WRIST = ANATOMICAL.index("left_wrist")
CLUBHEAD = ANATOMICAL.index("clubhead")
LEGS = sides("knee", "ankle", "heel", "toe", "small_toe")
ARMS = sides("elbow", "wrist", "hand")


def clock(fps: float, seconds: float) -> FloatArray:
    return np.arange(round(fps * seconds)) / fps


def empty(times: FloatArray) -> FloatArray:
    return np.full((len(times), N_POINTS, 2), np.nan)


def with_path(times: FloatArray, point: int, x: FloatArray, y: FloatArray | float) -> FloatArray:
    points = empty(times)
    points[:, point, 0], points[:, point, 1] = x, y
    return points


def clean(points: FloatArray, times: FloatArray, scale: float = 1.0) -> Conditioned:
    return condition(points, np.ones(points.shape[:2]), times, scale=scale)


def lively(times: FloatArray, seed: int = 0, noise: float = 0.0) -> FloatArray:
    """All points on paths of three slow sines each, sides well apart."""
    rng = np.random.default_rng(seed)
    rate = rng.uniform(0.3, 3.0, (3, N_POINTS, 2))
    phase = rng.uniform(0, 2 * np.pi, (3, N_POINTS, 2))
    waves = 0.03 * np.sin(2 * np.pi * rate * times[:, None, None, None] + phase)
    home = np.stack([np.arange(N_POINTS) % 2 * 0.3, np.arange(N_POINTS) * 0.03], axis=1)
    points: FloatArray = home + waves.sum(axis=1)
    return points + noise * rng.standard_normal(points.shape)


def exchanged(points: FloatArray, limb: list[list[int]], first: int, last: int) -> FloatArray:
    swapped = points.copy()
    swapped[first:last, limb[0]] = points[first:last, limb[1]]
    swapped[first:last, limb[1]] = points[first:last, limb[0]]
    return swapped


def swing(times: FloatArray, radius: float) -> tuple[FloatArray, FloatArray]:
    """A full-speed arc: up in 0.8 s, down in 0.25 s, through the ball at 20 rad/s, and on.

    The angle is piecewise cubic with continuous speed; at the top it turns on the spot.
    """
    knots, angles, speeds = [0.0, 0.8, 1.05, 1.5], [0.0, -3.6, 0.0, 3.6], [0.0, 0.0, 20.0, 0.0]
    k = np.clip(np.searchsorted(knots, times, side="right") - 1, 0, 2)
    start, a0, a1 = np.take(knots, k), np.take(angles, k), np.take(angles, k + 1)
    v0, v1 = np.take(speeds, k), np.take(speeds, k + 1)
    h = np.take(knots, k + 1) - start
    u = np.clip((times - start) / h, 0, 1)
    angle = (
        a0 * (1 + 2 * u) * (1 - u) ** 2
        + h * v0 * u * (1 - u) ** 2
        + a1 * u**2 * (3 - 2 * u)
        - h * v1 * u**2 * (1 - u)
    )
    return radius * np.sin(angle), -radius * np.cos(angle)


# --- smoothing -------------------------------------------------------------------------


@pytest.mark.parametrize("fps", [30.0, 60.0, 240.0])
@pytest.mark.parametrize(("point", "frequency"), [(KNEE, 3.0), (WRIST, 4.5), (CLUBHEAD, 6.0)])
def test_a_sine_below_the_cutoff_passes_without_lag_or_loss(
    fps: float, point: int, frequency: float
) -> None:
    times = clock(fps, 3.0)
    x = 0.1 * np.sin(2 * np.pi * frequency * times)
    result = clean(with_path(times, point, x, 0.0), times).points[:, point, 0]
    inside = (times > 0.5) & (times < 2.5)
    wave = np.exp(-2j * np.pi * frequency * times[inside])
    gain = np.sum(result[inside] * wave) / np.sum(x[inside] * wave)
    assert abs(gain) == pytest.approx(1.0, abs=0.01)
    assert np.angle(gain) == pytest.approx(0.0, abs=0.005)


def test_three_decibels_are_lost_at_the_cutoff_of_the_body() -> None:
    times = clock(240.0, 4.0)
    x = 0.01 * np.sin(2 * np.pi * 8.0 * times)
    result = clean(with_path(times, KNEE, x, 0.0), times).points[:, KNEE, 0]
    inside = (times > 1.0) & (times < 3.0)
    assert np.ptp(result[inside]) / np.ptp(x[inside]) == pytest.approx(np.sqrt(0.5), abs=0.01)


def test_the_cutoff_does_not_follow_the_spacing_of_the_frames() -> None:
    times = np.concatenate([clock(60.0, 3.0), 3.0 + clock(240.0, 3.0)])
    x = 0.01 * np.sin(2 * np.pi * 6.0 * times)
    result = clean(with_path(times, KNEE, x, 0.0), times).points[:, KNEE, 0]
    coarse, fine = (times > 0.5) & (times < 2.5), (times > 3.5) & (times < 5.5)
    assert np.std(result[coarse]) == pytest.approx(np.std(result[fine]), rel=0.05)


def test_a_straight_line_passes_untouched_to_its_very_ends() -> None:
    times = clock(120.0, 1.0)
    points = with_path(times, WRIST, 0.7 * times, 1.0 - 0.2 * times)
    result = clean(points, times).points
    np.testing.assert_allclose(result[:, WRIST], points[:, WRIST], atol=1e-9)


@pytest.mark.parametrize("fps", [30.0, 60.0, 240.0])
@pytest.mark.parametrize("sigma", [0.003, 0.01])
def test_white_noise_is_recovered(fps: float, sigma: float) -> None:
    times = clock(fps, 3.0)
    result = clean(lively(times, noise=sigma), times)
    assert np.median(result.noise) == pytest.approx(sigma, rel=0.15)


def test_the_noise_of_a_long_clip_is_recovered_for_every_point() -> None:
    times = clock(240.0, 10.0)
    result = clean(lively(times, noise=0.005), times)
    np.testing.assert_allclose(result.noise, 0.005, rtol=0.15)


def test_uneven_frames_are_smoothed_nearly_as_well_as_even_ones() -> None:
    rng = np.random.default_rng(1)
    even = clock(240.0, 4.0)
    uneven = even + rng.uniform(-0.4, 0.4, len(even)) / 240.0
    noise = 0.005 * rng.standard_normal((len(even), N_POINTS, 2))
    errors = [
        np.std(clean(lively(times) + noise, times).points - lively(times))
        for times in (even, uneven)
    ]
    assert errors[1] < 1.15 * errors[0]


def test_doubling_the_frame_rate_changes_next_to_nothing() -> None:
    slow, fast = clock(120.0, 2.0), clock(240.0, 2.0)
    at_slow = clean(lively(slow), slow).points
    at_fast = clean(lively(fast), fast).points[::2]
    np.testing.assert_allclose(at_fast[10:-10], at_slow[10:-10], atol=3e-4)


def test_idle_frames_before_the_swing_change_next_to_nothing() -> None:
    times = clock(240.0, 2.0)
    points = with_path(times, WRIST, *swing(times, 0.35))
    points += 0.003 * np.random.default_rng(3).standard_normal(points.shape)
    idle = np.concatenate([points[:1].repeat(240, axis=0), points])
    longer = clock(240.0, 3.0)
    before, after = clean(points, times).points, clean(idle, longer).points[240:]
    np.testing.assert_allclose(after[24:], before[24:], atol=1e-4)


# --- outliers --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fps", "length"), [(30.0, 1), (30.0, 2), (60.0, 2), (240.0, 2), (240.0, 6)]
)
def test_a_spike_on_a_straight_line_is_dropped_and_filled(fps: float, length: int) -> None:
    times = clock(fps, 2.0)
    line = with_path(times, WRIST, 0.3 * times, 0.5)
    spiked = line.copy()
    middle = slice(len(times) // 2, len(times) // 2 + length)
    spiked[middle, WRIST, 1] += 0.4
    result = clean(spiked, times)
    assert result.outliers_removed == length
    assert not result.observed[middle, WRIST].any()
    np.testing.assert_allclose(result.points[:, WRIST], line[:, WRIST], atol=1e-6)


def test_spikes_are_found_beside_missing_frames() -> None:
    times = clock(60.0, 2.0)
    points = with_path(times, KNEE, 0.1 * times, 0.0)
    points[61:63] = np.nan
    points[60, KNEE, 1] = 0.5
    result = clean(points, times)
    assert result.outliers_removed == 1
    assert not result.observed[60, KNEE]


@pytest.mark.parametrize("fps", [25.0, 30.0, 60.0, 120.0, 240.0])
@pytest.mark.parametrize(("point", "radius"), [(WRIST, 0.35), (CLUBHEAD, 0.95)])
@pytest.mark.parametrize("offset", [0.0, 0.25, 0.5, 0.75])
def test_a_full_speed_swing_loses_nothing(
    fps: float, point: int, radius: float, offset: float
) -> None:
    times = clock(fps, 2.0)
    points = with_path(times, point, *swing(times + offset / fps, radius))
    assert clean(points, times).outliers_removed == 0


@pytest.mark.parametrize("fps", [30.0, 240.0])
def test_a_full_speed_swing_keeps_its_shape(fps: float) -> None:
    times = clock(fps, 2.0)
    points = with_path(times, WRIST, *swing(times, 0.35))
    points[:, CLUBHEAD] = np.stack(swing(times, 0.95), axis=1)
    strayed = np.linalg.norm(clean(points, times).points - points, axis=2)
    assert strayed[:, WRIST].max() < 0.01
    assert strayed[:, CLUBHEAD].max() < 0.01


@pytest.mark.parametrize("fps", [30.0, 60.0, 240.0])
def test_a_fast_parabola_turn_is_left_unharmed(fps: float) -> None:
    times = clock(fps, 1.0)
    turn = 20.0 * np.square(times - 0.5)
    result = clean(with_path(times, WRIST, 0.5 * times, np.minimum(turn, 1.0)), times)
    assert result.outliers_removed == 0
    about = np.abs(times - 0.5) < 0.15
    np.testing.assert_allclose(result.points[about, WRIST, 1], turn[about], atol=0.002)


@pytest.mark.parametrize(("fps", "spikes"), [(30.0, 0), (240.0, 1)])
def test_a_flick_is_motion_if_a_hand_can_make_it_between_two_frames(
    fps: float, spikes: int
) -> None:
    times = clock(fps, 1.0)
    x = np.zeros(len(times))
    x[len(times) // 2] = 0.1
    assert clean(with_path(times, WRIST, x, 0.0), times).outliers_removed == spikes


def test_a_point_that_moves_once_and_stays_is_no_outlier() -> None:
    times = clock(30.0, 2.0)
    result = clean(with_path(times, KNEE, np.where(times < 1.0, 0.0, 0.2), 0.0), times)
    assert result.outliers_removed == 0


def test_noise_alone_makes_no_outliers() -> None:
    times = clock(240.0, 4.0)
    assert clean(lively(times, noise=0.02), times).outliers_removed == 0


# --- swapped sides ---------------------------------------------------------------------


def standing(times: FloatArray) -> FloatArray:
    points = lively(times)
    points[:, [*ARMS[0], *LEGS[0]], 0] = 0.0
    points[:, [*ARMS[1], *LEGS[1]], 0] = 0.25
    return points


@pytest.mark.parametrize("limb", [ARMS, LEGS])
@pytest.mark.parametrize(("fps", "length"), [(30.0, 3), (240.0, 3), (240.0, 40)])
def test_a_short_swap_is_repaired_and_nothing_else_touched(
    limb: list[list[int]], fps: float, length: int
) -> None:
    times = clock(fps, 2.0)
    points = standing(times)
    middle = len(times) // 2
    result = clean(exchanged(points, limb, middle, middle + length), times)
    assert (result.swaps_repaired, result.outliers_removed) == (1, 0)
    np.testing.assert_array_equal(result.points, clean(points, times).points)


def test_a_joint_seen_on_one_side_only_is_exchanged_with_its_limb() -> None:
    times = clock(60.0, 1.0)
    points = standing(times)
    points[:, LEGS[0][1:]] = np.nan
    swapped = exchanged(points, LEGS, 30, 33)
    np.testing.assert_array_equal(clean(swapped, times).points, clean(points, times).points)


def test_a_long_swap_of_the_arms_is_left_alone() -> None:
    times = clock(60.0, 2.0)
    assert clean(exchanged(standing(times), ARMS, 40, 80), times).swaps_repaired == 0


@pytest.mark.parametrize(("first", "last"), [(0, 20), (40, 80), (50, 120)])
def test_legs_that_change_places_are_exchanged_back_however_long(first: int, last: int) -> None:
    times = clock(60.0, 2.0)
    points = standing(times)
    result = clean(exchanged(points, LEGS, first, last), times)
    assert result.swaps_repaired == 1
    np.testing.assert_array_equal(result.points, clean(points, times).points)


def test_a_leg_put_past_the_other_is_not_exchanged() -> None:
    times = clock(60.0, 2.0)
    points = standing(times)
    points[60:, LEGS[0], 0] += 0.5
    assert clean(points, times).swaps_repaired == 0


@pytest.mark.parametrize("fps", [10.0, 15.0, 20.0, 30.0, 60.0, 240.0])
@pytest.mark.parametrize("steps_a_second", [1.0, 2.0, 3.0, 5.0])
def test_legs_that_cross_in_walking_and_running_are_not_swapped(
    fps: float, steps_a_second: float
) -> None:
    times = clock(fps, 4.0)
    stride = 0.15 * np.sin(np.pi * steps_a_second * times + np.pi / 8)
    points = empty(times)
    for reach, left, right in zip((0.5, 1.0, 1.0, 1.1, 1.1), *LEGS, strict=True):
        points[:, left, 0], points[:, right, 0] = reach * stride, -reach * stride
        points[:, [left, right], 1] = reach
    result = clean(points, times)
    assert (result.swaps_repaired, result.outliers_removed) == (0, 0)


@pytest.mark.parametrize("fps", [30.0, 240.0])
def test_hands_together_on_a_noisy_club_are_not_swapped(fps: float) -> None:
    times = clock(fps, 2.0)
    x, y = swing(times, 0.35)
    points = empty(times)
    for reach, left, right in zip((0.6, 0.9, 1.0), *ARMS, strict=True):
        points[:, left] = reach * np.stack([x - 0.02, y], axis=1)
        points[:, right] = reach * np.stack([x + 0.02, y], axis=1)
    points += 0.01 * np.random.default_rng(4).standard_normal(points.shape)
    assert clean(points, times).swaps_repaired == 0


def test_sides_on_top_of_each_other_are_not_swapped() -> None:
    times = clock(60.0, 4.0)
    points = np.ones((len(times), N_POINTS, 2))
    points += 0.01 * np.random.default_rng(6).standard_normal(points.shape)
    assert clean(points, times).swaps_repaired == 0


@pytest.mark.parametrize("fps", [10.0, 12.0, 15.0, 30.0])
@pytest.mark.parametrize("speed", [5.0, 10.0, 15.0, 20.0])
def test_sides_that_turn_fast_are_not_swapped(fps: float, speed: float) -> None:
    times = clock(fps, 3.0)
    points = empty(times)
    reach = 0.12 * np.stack([np.cos(speed * times), np.sin(speed * times)], axis=1)
    points[:, ARMS[0]], points[:, ARMS[1]] = reach[:, None], -reach[:, None]
    assert clean(points, times).swaps_repaired == 0


# --- missing points --------------------------------------------------------------------


def test_a_five_frame_gap_is_filled_and_a_long_one_is_not() -> None:
    times = clock(240.0, 2.0)
    x = 0.1 * np.sin(2 * np.pi * 1.5 * times)
    points = with_path(times, WRIST, x, 0.0)
    points[100:105] = np.nan
    points[240:312] = np.nan
    result = clean(points, times)
    np.testing.assert_allclose(result.points[100:105, WRIST, 0], x[100:105], atol=5e-4)
    assert np.isnan(result.points[240:312, WRIST]).all()
    assert not result.observed[100:105, WRIST].any()
    assert not result.observed[240:312, WRIST].any()
    assert result.observed[:, WRIST].sum() == len(times) - 77


def test_nothing_is_extrapolated() -> None:
    times = clock(60.0, 1.0)
    points = with_path(times, KNEE, times, 0.0)
    points[:2] = points[-2:] = np.nan
    result = clean(points, times).points
    assert np.isnan(result[:2]).all()
    assert np.isnan(result[-2:]).all()
    np.testing.assert_allclose(result[2:-2, KNEE, 0], times[2:-2], atol=1e-9)


def test_the_two_sides_of_a_long_gap_do_not_touch() -> None:
    times = clock(60.0, 2.0)
    points = with_path(times, KNEE, np.sin(8 * times), 0.0)
    points[50:80] = np.nan
    moved = points.copy()
    moved[80:, KNEE] += 5.0
    before, after = clean(points, times).points, clean(moved, times).points
    np.testing.assert_allclose(after[:50], before[:50], atol=1e-12)
    np.testing.assert_allclose(after[80:, KNEE], before[80:, KNEE] + 5.0, atol=1e-12)


def test_a_guess_of_low_confidence_counts_as_missing() -> None:
    times = clock(60.0, 1.0)
    points = lively(times)
    confidence = np.ones(points.shape[:2])
    confidence[:, KNEE] = 0.1
    result = condition(points, confidence, times, scale=1.0)
    assert np.isnan(result.points[:, KNEE]).all()
    assert np.isnan(result.noise[KNEE])
    assert np.isfinite(result.noise[WRIST])


@pytest.mark.parametrize("n_frames", [1, 2, 3, 4])
def test_the_shortest_clips_come_through(n_frames: int) -> None:
    times = np.arange(n_frames) / 30.0
    points = lively(times)
    result = clean(points, times)
    assert result.points.shape == points.shape
    assert np.isfinite(result.points).all()
    assert np.isfinite(result.frame_rate) == (n_frames > 1)


def test_scattered_single_frames_pass_as_they_are() -> None:
    times = clock(30.0, 2.0)
    points = lively(times)
    points[np.arange(len(times)) % 8 != 0] = np.nan
    np.testing.assert_allclose(clean(points, times).points, points)


def test_a_clip_without_points_stays_empty() -> None:
    times = clock(60.0, 1.0)
    result = clean(empty(times), times)
    assert np.isnan(result.points).all()
    assert not result.observed.any()
    assert np.isnan(result.noise).all()


# --- symmetries ------------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(
    shift=st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3)),
    scale=st.floats(0.01, 1e3),
    turn=st.floats(-np.pi, np.pi),
    offset=st.floats(-100, 100),
    seed=st.integers(0, 2**16),
)
def test_moving_the_camera_or_the_clock_moves_the_result(
    shift: tuple[float, float], scale: float, turn: float, offset: float, seed: int
) -> None:
    times = clock(60.0, 1.0)
    points = lively(times, seed, noise=0.005)
    gone = np.random.default_rng(seed).random(points.shape[:2]) < 0.1
    gone[15:35] = False
    points[gone] = np.nan
    points[30, WRIST] += 0.5
    points = exchanged(points, LEGS, 20, 23)
    spin = scale * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    plain = clean(points, times)
    moved = clean(points @ spin.T + np.array(shift), times + offset, scale)
    np.testing.assert_array_equal(moved.observed, plain.observed)
    assert moved.swaps_repaired == plain.swaps_repaired == 1
    assert not plain.observed[30, WRIST]
    expected = plain.points @ spin.T + np.array(shift)
    np.testing.assert_allclose(moved.points, expected, atol=1e-6 * scale + 1e-8)
    larger = clean(points * scale, times, scale)
    np.testing.assert_allclose(larger.noise, plain.noise * scale, rtol=1e-6)


# --- the door --------------------------------------------------------------------------


def test_frames_must_advance_in_time() -> None:
    times = np.array([0.0, 0.1, 0.1])
    with pytest.raises(ValueError, match="times must be strictly increasing"):
        clean(empty(times), times)


@pytest.mark.parametrize("scale", [0.0, -1.0, float("nan")])
def test_the_scale_must_be_a_length(scale: float) -> None:
    times = clock(30.0, 1.0)
    with pytest.raises(ValueError, match="scale must be a positive length"):
        clean(empty(times), times, scale)


def test_there_must_be_a_frame() -> None:
    with pytest.raises(ValueError, match="one frame at least"):
        clean(empty(np.zeros(0)), np.zeros(0))


def test_shapes_must_agree() -> None:
    times = clock(30.0, 1.0)
    with pytest.raises(ValueError, match="points must have shape"):
        clean(empty(times)[1:], times)
    with pytest.raises(ValueError, match="confidence must have shape"):
        condition(empty(times), np.ones((3, 3)), times, scale=1.0)


# --- stature ---------------------------------------------------------------------------


def upright_player() -> FloatArray:
    """One frame of a player 2 units tall with arms hanging, every segment in the picture."""
    heights = {
        "shoulder": 0.818,
        "elbow": 0.818 - 0.186,
        "wrist": 0.818 - 0.186 - 0.146,
        "hip": 0.530,
        "knee": 0.530 - 0.245,
        "ankle": 0.530 - 0.245 - 0.246,
    }
    points = np.full((1, N_POINTS, 2), np.nan)
    for joint, height in heights.items():
        points[0, ANATOMICAL.index(f"left_{joint}")] = 0.2, 2 * height
        points[0, ANATOMICAL.index(f"right_{joint}")] = -0.2, 2 * height
    return points


@pytest.mark.parametrize("missing", [(), ("ankle",), ("hip",), ("wrist", "knee"), ("shoulder",)])
def test_stature_follows_from_any_limb(missing: tuple[str, ...]) -> None:
    points = upright_player()
    for joint in missing:
        points[:, np.ravel(sides(joint))] = np.nan
    assert body_height(points) == pytest.approx(2.0)


def test_stature_survives_limbs_that_point_at_the_camera_for_a_while() -> None:
    points = upright_player().repeat(50, axis=0)
    points[:40, :, 1] *= 0.5
    assert body_height(points) == pytest.approx(2.0)


def test_no_limb_no_stature() -> None:
    assert np.isnan(body_height(np.full((5, N_POINTS, 2), np.nan)))
    assert np.isnan(body_height(np.full((0, N_POINTS, 2), np.nan)))


@pytest.mark.parametrize("jitter", [0.02, 0.04])
def test_noise_stretches_a_player_less_than_half_as_far_as_long_lengths_say(jitter: float) -> None:
    times = clock(60.0, 4.0)
    seen = upright_player().repeat(len(times), axis=0)
    seen += jitter * np.random.default_rng(3).standard_normal(seen.shape)
    (told,) = statures([clean(seen, times, 2.0).points], [9.0])
    assert abs(told - 2.0) < 0.5 * (body_height(seen) - 2.0)


@pytest.mark.parametrize("view", View)
def test_limbs_that_point_at_the_camera_for_a_while_make_no_player_small(view: View) -> None:
    _, recording = clip(view)
    longest = body_height(recording.points, 0.95)
    assert statures([recording.points], [np.nan]) == [pytest.approx(longest, rel=0.05)]


def test_where_no_limb_is_left_the_approximate_stature_stands() -> None:
    assert statures([np.full((5, N_POINTS, 2), np.nan)], [1.7]) == [1.7]
