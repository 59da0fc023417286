from __future__ import annotations

import numpy as np
import pytest

from service.analysis.pose.points import ANATOMICAL, N_POINTS, Point, swap_sides
from service.analysis.types import Handedness, Intent
from tests.training.simulator import measures_3d as m3
from training.data.draws import random_amounts
from training.data.retimed import retimed_swing
from training.simulator import (
    FaultAmounts,
    Golfer,
    SwingMotion,
    Tempo,
    random_golfer,
    random_swing,
    swing_motion,
)
from training.simulator.body.clubs import LONGEST_CLUB, SETUPS, club_length
from training.simulator.keyed import random_keyed_swing
from training.simulator.true_positions import finish_frame, impact_frame

BONES = [
    (Point.MID_HIP, Point.MID_TRUNK),
    (Point.MID_TRUNK, Point.NECK),
    (Point.NECK, Point.HEAD),
    (Point.LEAD_HIP, Point.TRAIL_HIP),
    (Point.GRIP_END, Point.CLUBHEAD),
    *(
        (start + side, end + side)
        for side in (0, 1)
        for start, end in (
            (Point.LEAD_SHOULDER, Point.LEAD_ELBOW),
            (Point.LEAD_ELBOW, Point.LEAD_WRIST),
            (Point.LEAD_WRIST, Point.LEAD_HAND),
            (Point.LEAD_HIP, Point.LEAD_KNEE),
            (Point.LEAD_KNEE, Point.LEAD_ANKLE),
            (Point.LEAD_ANKLE, Point.LEAD_HEEL),
        )
    ),
    (Point.NECK, Point.LEAD_SHOULDER),
    (Point.NECK, Point.TRAIL_SHOULDER),
]


def all_sorts_of_swings() -> list[SwingMotion]:
    swings = [
        swing_motion(Golfer(), length=0.25),
        swing_motion(Golfer(), length=0.5, practice_swings=1, waggles=1, forward_press=True),
        swing_motion(Golfer(), length=1.2, pause_at_top=0.3),
        swing_motion(Golfer(), FaultAmounts(*[1.0] * 12)),
    ]
    faults = list(FaultAmounts.__dataclass_fields__)
    for seed in range(12):
        rng = np.random.default_rng(seed)
        amounts = FaultAmounts(**{f: float(rng.uniform(0, 1.2)) for f in rng.choice(faults, 2)})
        intent = Intent.REHEARSAL if seed % 3 == 0 else Intent.FULL_SPEED
        swings.append(random_swing(rng, amounts=amounts, intent=intent))
    return swings


SWINGS = all_sorts_of_swings()


@pytest.fixture(params=SWINGS, ids=lambda m: f"{m.golfer.club}-{m.length:.2f}")
def any_swing(request):
    return request.param


@pytest.fixture(scope="module")
def clean():
    return swing_motion(Golfer())


def over_time(motion: SwingMotion, fps: float = 240.0):
    times = np.arange(0.0, motion.duration, 1.0 / fps)
    return times, motion.canonical_joints(times)


def test_no_point_is_ever_missing(any_swing):
    _, joints = over_time(any_swing)
    assert joints.shape[1:] == (N_POINTS, 3)
    assert np.isfinite(joints).all()


def test_bones_and_club_keep_their_length(any_swing):
    _, joints = over_time(any_swing)
    for start, end in BONES:
        length = np.linalg.norm(joints[:, start] - joints[:, end], axis=-1)
        assert np.ptp(length) < 1e-6, (start.name, end.name)


def test_both_hands_stay_on_the_grip(any_swing):
    _, joints = over_time(any_swing)
    for hand in (Point.LEAD_HAND, Point.TRAIL_HAND):
        from_grip = np.linalg.norm(joints[:, hand] - joints[:, Point.GRIP], axis=-1)
        assert from_grip.max() < 0.06
    for wrist in (Point.LEAD_WRIST, Point.TRAIL_WRIST):
        from_grip = np.linalg.norm(joints[:, wrist] - joints[:, Point.GRIP], axis=-1)
        assert from_grip.max() < 0.14


def test_velocity_is_continuous(any_swing):
    """Looking four times as closely, velocity changes far less from step to step."""

    def greatest_change(fps):
        _, joints = over_time(any_swing, fps)
        return np.linalg.norm(np.diff(joints, 2, axis=0), axis=-1).max(axis=0) * fps

    assert np.all(greatest_change(1920.0) < 0.5 * greatest_change(480.0) + 1e-3)


def test_no_joint_goes_faster_than_a_swing_can(any_swing):
    _, joints = over_time(any_swing, 480.0)
    speed = np.linalg.norm(np.diff(joints, axis=0), axis=-1).max(axis=0) * 480.0
    assert speed[: Point.LEAD_SHOULDER].max() < 6.0
    assert speed[[Point.LEAD_ELBOW, Point.TRAIL_ELBOW]].max() < 16.0
    assert speed[Point.CLUBHEAD] < 75.0


def test_feet_never_sink_and_the_lead_foot_stays(any_swing):
    _, joints = over_time(any_swing)
    assert joints[:, Point.LEAD_HEEL : Point.TRAIL_SMALL_TOE + 1, 1].min() > -1e-9
    moved = np.ptp(joints[:, Point.LEAD_ANKLE], axis=0)
    assert moved.max() < 0.06


def test_positions_come_in_order(any_swing):
    times = any_swing.position_times
    found = times[~np.isnan(times)]
    assert np.all(np.diff(found) > 0)
    assert found[0] >= 0
    assert found[-1] <= any_swing.duration + 1e-9


def test_a_full_swing_reaches_all_ten_positions(clean):
    assert np.isfinite(clean.position_times).all()


def test_a_chip_has_no_position_of_a_longer_swing():
    times = swing_motion(Golfer(), length=0.25).position_times
    assert np.isnan(times[[2, 4]]).all()
    assert np.isfinite(times[[0, 3, 6, 9]]).all()


@pytest.mark.parametrize("make", ["joint angles", "retimed", "keyed"])
def test_short_swings_reach_positions_in_order_or_not_at_all(make):
    missing = np.zeros(10)
    for seed in range(20):
        rng = np.random.default_rng(seed)
        intent = Intent.REHEARSAL if seed % 3 == 0 else Intent.FULL_SPEED
        _, amounts = random_amounts(rng, intent)
        length = float(rng.uniform(0.35, 0.6))
        if make == "keyed":
            motion = random_keyed_swing(rng, None, amounts, intent, length)
        else:
            swing = retimed_swing if make == "retimed" else random_swing
            motion = swing(rng, random_golfer(rng), amounts, intent, length)
        times = motion.position_times
        missing += np.isnan(times)
        assert np.all(np.diff(times[np.isfinite(times)]) > 0.0), (seed, length)
    # A pitch's arms don't come level; shaft, top, impact and finish there always are.
    assert missing[[0, 3, 6, 9]].sum() == 0
    assert 3 < missing[2] < 20
    assert missing[4] == pytest.approx(missing[2], abs=1)


def test_no_position_comes_after_the_finish():
    motion = swing_motion(Golfer(), length=0.38)
    finish = motion.position_times[9]
    trail = np.diff(
        motion.canonical_joints(np.linspace(finish, motion.duration, 200))[
            :, [Point.TRAIL_SHOULDER, Point.TRAIL_WRIST], 1
        ]
    )
    assert trail.min() < 0.0 < trail.max()  # the arm comes level while the hands come to rest
    assert np.isnan(motion.position_times[8])


def test_positions_mean_what_they_say(any_swing):
    times = any_swing.position_times
    joints = any_swing.canonical_joints(times[~np.isnan(times)])
    at = dict(zip(np.flatnonzero(~np.isnan(times)) + 1, joints, strict=True))

    def drop(number, root, end):
        return abs(at[number][end, 1] - at[number][root, 1]) if number in at else 0.0

    for number in (2, 6, 8):
        assert drop(number, Point.GRIP_END, Point.CLUBHEAD) < 0.02
    for number in (3, 5):
        assert drop(number, Point.LEAD_SHOULDER, Point.LEAD_WRIST) < 0.005
    assert drop(9, Point.TRAIL_SHOULDER, Point.TRAIL_WRIST) < 0.005
    assert abs(at[7][Point.CLUBHEAD, 0] - at[1][Point.CLUBHEAD, 0]) < 0.03


def test_the_clubhead_comes_back_to_the_ball(any_swing):
    first, impact = any_swing.canonical_joints(np.array([0.0, any_swing.position_times[6]]))[
        :, Point.CLUBHEAD
    ]
    assert np.linalg.norm(impact - first) < 0.05
    assert first[1] == pytest.approx(0.02, abs=0.01)


def test_tempo_is_told_by_the_motion(clean):
    times = clean.position_times
    assert times[6] - times[3] == pytest.approx(0.25, abs=0.015)
    assert (times[3] - times[0]) / (times[6] - times[3]) == pytest.approx(3.0, abs=0.2)


def test_a_pause_at_the_top_belongs_to_the_backswing(clean):
    paused = swing_motion(Golfer(), pause_at_top=0.4).position_times
    plain = clean.position_times
    assert paused[3] - paused[0] == pytest.approx(plain[3] - plain[0] + 0.4, abs=0.02)
    assert paused[6] - paused[3] == pytest.approx(plain[6] - plain[3], abs=0.02)


def test_a_rehearsal_is_slower_and_more_even():
    ratios = []
    for seed in range(10):
        motion = random_swing(
            np.random.default_rng(seed), Golfer(), intent=Intent.REHEARSAL, length=1.0
        )
        down = motion.position_times[6] - motion.position_times[3]
        assert 0.4 < down < 1.2
        ratios.append(motion.tempo.backswing / motion.tempo.downswing)
    assert 1.4 < min(ratios) < max(ratios) < 2.6


def test_practice_swings_come_before_the_swing_that_counts():
    one = swing_motion(Golfer())
    three = swing_motion(Golfer(), practice_swings=2)
    assert three.duration > one.duration + 4.0
    later = three.position_times - one.position_times
    assert np.ptp(later) < 1e-6
    assert later[0] == pytest.approx(three.duration - one.duration, abs=0.003)


def test_hands_are_fastest_just_before_impact():
    for seed in range(8):
        motion = random_swing(np.random.default_rng(seed))
        times = np.arange(motion.position_times[3], motion.position_times[9], 0.001)
        hand = motion.canonical_joints(times)[:, Point.LEAD_WRIST]
        speed = np.linalg.norm(np.gradient(hand, 0.001, axis=0), axis=-1)
        late = times[np.argmax(speed)] - motion.position_times[6]
        assert -0.07 < late < 0.03
        assert 5.0 < speed.max() < 16.0


def test_the_body_unwinds_from_the_ground_up(clean):
    """Pelvis, then chest, then arms turn back at the top."""
    times, joints = over_time(clean, 500.0)
    back = times < clean.position_times[6]
    hips = times[np.argmin(m3.hip_turn(joints[back]))]
    chest = times[np.argmin(m3.shoulder_turn(joints[back]))]
    assert hips < chest < clean.position_times[3] + 0.01


@pytest.mark.parametrize(
    ("measure", "position", "low", "high"),
    [
        (m3.shoulder_turn, 4, -100, -80),
        (m3.hip_turn, 4, -52, -38),
        (m3.hip_turn, 7, 33, 47),
        (m3.shoulder_turn, 7, 15, 32),
        (m3.shoulder_turn, 10, 85, 100),
        (m3.hip_turn, 10, 80, 95),
        (m3.side_tilt, 1, 4, 11),
        (m3.side_tilt, 7, 14, 25),
    ],
)
def test_a_clean_swing_turns_and_tilts_as_sound_swings_do(clean, measure, position, low, high):
    assert low < measure(m3.joints_at(clean, position))[0] < high


def test_a_clean_swing_keeps_the_wrists_set_until_late(clean):
    lag = m3.angle_between(
        m3.lead_arm(m3.joints_at(clean, 4, 5, 7)), m3.shaft(m3.joints_at(clean, 4, 5, 7))
    )
    assert np.all((lag[:2] > 75) & (lag[:2] < 110))
    assert lag[2] < 15


def test_the_lead_arm_is_nearly_straight_until_p8_and_folded_at_the_finish():
    for seed in range(8):
        motion = random_swing(np.random.default_rng(seed))
        elbow = m3.flexion(
            m3.joints_at(motion, 2, 3, 4, 5, 6, 7, 8, 10),
            Point.LEAD_SHOULDER, Point.LEAD_ELBOW, Point.LEAD_WRIST,
        )  # fmt: skip
        # One real shot in ten bends it by 49 degrees at P3 (see models/realism.md).
        assert elbow[:-1].max() < 52
        assert np.median(elbow[:-1]) < 40
        assert elbow[-1] > 75


def test_the_trail_heel_stays_down_until_late_and_ends_up_on_the_toe(clean):
    height = m3.joints_at(clean, 5, 6, 7, 10)[:, Point.TRAIL_HEEL, 1]
    assert height[1] < 0.01
    assert height[2] < 0.04
    assert height[3] > 0.12


def test_the_hands_lead_the_clubhead_at_impact():
    for seed in range(8):
        motion = random_swing(np.random.default_rng(seed))
        joints = m3.joints_at(motion, 7)[0]
        ahead = joints[Point.LEAD_HAND, 0] - joints[Point.CLUBHEAD, 0]
        assert 0.03 < ahead < 0.12


def test_clean_swings_differ_between_players():
    tops = np.array(
        [
            m3.joints_at(random_swing(np.random.default_rng(seed)), 4)[0, Point.LEAD_HAND]
            for seed in range(6)
        ]
    )
    assert np.all(np.ptp(tops, axis=0) > 0.03)


def test_the_same_seed_gives_the_same_player_and_swing():
    times = np.linspace(0.0, 2.0, 20)
    first, second = (random_swing(np.random.default_rng(5)) for _ in range(2))
    assert first.golfer == second.golfer
    np.testing.assert_array_equal(first.joints(times), second.joints(times))
    assert random_golfer(np.random.default_rng(5)) != random_golfer(np.random.default_rng(6))


def test_a_left_hander_is_the_mirror_image_of_a_right_hander():
    times = np.linspace(0.0, 2.0, 30)
    right = swing_motion(Golfer()).joints(times)
    left = swing_motion(Golfer(handedness=Handedness.LEFT)).joints(times)
    np.testing.assert_allclose(left, swap_sides(right) * [-1.0, 1.0, 1.0])
    right_wrist = ANATOMICAL.index("right_wrist")
    assert not np.allclose(left[:, right_wrist], right[:, right_wrist])


@pytest.mark.parametrize("club", SETUPS)
def test_no_club_is_longer_than_the_rules_allow(club):
    assert club_length(club, 2.3) <= LONGEST_CLUB
    assert club_length(club, 1.3) < club_length(club, 1.77)


@pytest.mark.parametrize(
    "wrong", [{"length": 0.1}, {"length": 1.5}, {"lead_in": -1.0}, {"practice_swings": -1}]
)
def test_an_impossible_swing_is_refused(wrong):
    with pytest.raises(ValueError, match="must"):
        swing_motion(Golfer(), **wrong)


def test_an_impossible_player_or_tempo_is_refused():
    with pytest.raises(ValueError, match="stature"):
        Golfer(stature=3.0)
    with pytest.raises(ValueError, match="positive"):
        Tempo(backswing=0.0)


@pytest.mark.parametrize("back", [0.0, 0.05, 0.3])
def test_the_finish_is_where_the_hands_stop_whether_they_hold_or_turn_back(back):
    share = np.linspace(0.0, 1.0, 251)
    there = 1.5 * np.sin(0.5 * np.pi * np.concatenate([share, np.ones(100)]))
    there[251:] -= back * (0.5 - 0.5 * np.cos(np.pi * np.linspace(0.0, 1.0, 100)))
    hands = np.column_stack([there, np.ones(351), np.zeros(351)])
    finish = finish_frame(hands, (0, 100, 120), 0.0175)
    assert there[finish] == pytest.approx(1.5 - 0.0175, abs=0.004)
    assert finish < 251


def test_the_clubhead_over_the_ball_at_the_top_is_not_impact():
    x = [0.0, -1.0, 0.1, -0.4, 0.3, -0.9, -0.3, 0.2, 1.0]
    y = [0.1, 0.8, 1.9, 1.5, 1.7, 1.2, 0.3, 0.1, 0.5]
    head = np.column_stack([x, y, np.zeros(9)])
    assert impact_frame(head, hands=0.8, top=2) == 7
